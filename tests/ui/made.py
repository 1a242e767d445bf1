"""Routines made for the tests: steady beats of any tempo, poses of any name."""

import functools
import tempfile
from dataclasses import replace
from pathlib import Path

import numpy as np
import soundfile
from PySide6.QtCore import QCoreApplication

from rehearse.cueing.cues import CueSheet
from rehearse.files.user_error import UserError
from rehearse.music.beatmap import BeatMap
from rehearse.music.decode import load_track
from rehearse.music.position import Count, Length
from rehearse.routine.folder import save_folder
from rehearse.routine.model import Placed, Routine, Section
from rehearse.routine.poses import load_catalogue

DEMO = Path(__file__).resolve().parents[2] / "demo" / "copper-lights"
SHORT_NAMES = ("crucifix", "vacuum", "front double biceps", "back lat spread")


def steady(bpm=120.0, seconds=30.0, first=0.5):
    """A beat map in 4/4 without anything but beats."""
    beats = np.arange(first, seconds - 0.1, 60.0 / bpm)
    places = tuple(int(k % 4) + 1 for k in range(len(beats)))
    return BeatMap("0" * 32, seconds, tuple(float(b) for b in beats), places)


def routine(beatmap, every=8, hold=4, transition=3, names=SHORT_NAMES):
    """A pose every so many counts, from the first count of the second eight on."""
    poses = []
    for number, count in enumerate(beatmap.counts[8::every]):
        if beatmap.time_of(count) > beatmap.duration - 3:
            break
        poses.append(
            Placed(
                f"{number:08x}", names[number % len(names)], count, Length(hold), Length(transition)
            )
        )
    section = Section("5ec70000", "Middle", Count(2, 1), Count(3, 1))
    return Routine("Made", "track.wav", poses=tuple(poses), sections=(section,))


def sheet(bpm=120.0, seconds=30.0, **kwargs):
    """The cue sheet of such a routine."""
    beatmap = steady(bpm, seconds)
    return CueSheet.compile(routine(beatmap, **kwargs), beatmap, load_catalogue())


def renamed(cue_sheet, index, name):
    """The sheet with another name at one cue."""
    cue = cue_sheet.cues[index]
    cues = list(cue_sheet.cues)
    cues[index] = replace(cue, pose=replace(cue.pose, name=name))
    return replace(cue_sheet, cues=tuple(cues))


def fast_folder(path, bpm=300.0, seconds=14.0):
    """A routine folder whose counts are so short that a whole drill fits into a test."""
    path.mkdir()
    for name, data in _fast_files(bpm, seconds).items():
        (path / name).write_bytes(data)
    return path


@functools.cache
def _fast_files(bpm, seconds):
    """What lies in such a folder: hundreds of tests ask for the same."""
    wave = np.sign(np.sin(np.arange(round(seconds * 44_100)) / 40)) / 16
    samples = np.repeat(wave[:, None], 2, axis=1).astype(np.float32)
    with tempfile.TemporaryDirectory() as place:
        path = Path(place)
        soundfile.write(path / "track.wav", samples, 44_100, subtype="PCM_16")
        track_hash = load_track(path / "track.wav").content_hash
        beatmap = replace(steady(bpm, seconds), track_hash=track_hash)
        made = routine(beatmap, hold=1, transition=1)
        short = (
            Section("5ec70001", "Short", Count(3, 1), Count(3, 2)),
            Section("5ec70002", "Later", Count(5, 1), Count(5, 2)),
            Section("5ec70003", "Last", Count(7, 1), Count(7, 2)),
        )
        save_folder(path, replace(made, sections=short), beatmap)
        return {file.name: file.read_bytes() for file in path.iterdir()}


def rehearsing(workspace, folder, qtbot):
    """The real window with the folder open, on its Rehearse page, the song read."""
    from rehearse.ui.window import REHEARSE, Window

    window = Window(workspace)
    qtbot.addWidget(window)
    window.resize(1366, 768)
    window.show()
    assert workspace.open(folder)
    qtbot.waitUntil(lambda: workspace.track is not None, timeout=120_000)
    window.show_page(REHEARSE)
    window.activateWindow()
    qtbot.waitUntil(window.isActiveWindow)
    return window


def settle(workspace):
    """Let the logbook's thread do all it was asked, and the window take the answers."""
    for _ in range(3):  # an answer may ask again
        if workspace.logbook is not None:
            assert workspace.logbook.settle()
        QCoreApplication.processEvents()


def kept(workspace):
    """Every pass in the logbook of the open routine."""
    found = []
    workspace.logbook.ask(lambda book: book.history(), found.append)
    settle(workspace)
    return found[0]


class PromptWorkers:
    """Does the work at once, in this process."""

    def submit(self, function, *args, on_progress=None):
        try:
            return PromptJob(function(*args, report=lambda fraction, text: None))
        except UserError as error:
            return PromptJob(error)

    def close(self):
        pass


class PromptJob:
    def __init__(self, value):
        self.value = value

    def add_done_callback(self, function):
        function(self)

    def result(self, timeout=None):
        if isinstance(self.value, UserError):
            raise self.value
        return self.value

    def done(self):
        return True

    def cancel(self):
        pass

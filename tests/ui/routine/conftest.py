"""A Routine page on an invented routine: 120 BPM from 4 s on, a player whose clock we turn."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pytest
import soundfile
from PySide6.QtCore import QPoint, Qt

from rehearse.music.beatmap import Accent, BeatMap, Build, Stretch
from rehearse.music.position import Count, Length
from rehearse.music.track import Track, hash_samples
from rehearse.playback.segment import Now, Segment
from rehearse.routine.folder import save_folder
from rehearse.routine.model import Placed, Routine, Section, StagePart
from rehearse.ui.pages.routine.page import RoutinePage
from rehearse.ui.workspace import Workspace
from tests.ui.made import PromptWorkers

RATE, SECONDS = 8000, 80.0


@dataclass
class HandClock:
    """A player that plays nothing: `source` is what is heard, turned by the test."""

    source: float = 0.0
    segments: list[tuple[Segment, float | None]] = field(default_factory=list)
    events: list = field(default_factory=list)
    playing: bool = False
    key: str = ""

    def load(self, track):
        self.track = track

    def play(self, segment, *, at=None, repeat=True):
        self.segments.append((segment, at))
        self.source = segment.start if at is None else at
        self.playing = True
        self.key = segment.key

    def change(self, segment, *, repeat=True):
        self.segments.append((segment, None))

    def stop(self):
        self.playing = False

    def volume(self, kind, gain):
        pass

    def now(self):
        return Now(source=self.source, key=self.key, state="music" if self.playing else "stopped")

    def poll(self):
        events, self.events = tuple(self.events), []
        return events

    def close(self):
        self.playing = False


def make_track() -> Track:
    """Clicks on every beat."""
    samples = np.zeros((int(RATE * SECONDS), 2), np.float32)
    for beat in np.arange(4.0, 76.0, 0.5):
        samples[int(beat * RATE) : int(beat * RATE) + 200] = 0.5
    samples.setflags(write=False)
    return Track(samples, RATE, hash_samples(samples, RATE), "song")


TRACK = make_track()


def make_map() -> BeatMap:
    """4/4 at 120 BPM: count 0.500 s, an eight 4.000 s (worked example of the facts sheet)."""
    beats = tuple(float(b) for b in np.arange(4.0, 76.0, 0.5))
    return BeatMap(
        track_hash=TRACK.content_hash,
        duration=SECONDS,
        beats=beats,
        places=tuple(k % 4 + 1 for k in range(len(beats))),
        free=(Stretch(0.0, 4.0), Stretch(76.0, 80.0)),
        accents=(Accent(8.0, 0.9), Accent(30.0, 0.8), Accent(40.0, 1.0)),
        builds=(Build(36.0, 40.0, 40.0),),
        quiets=(Stretch(50.0, 58.0),),
    )


def make_routine() -> Routine:
    """Three poses, of four counts each after two."""
    poses = (
        Placed("aaaaaaaa", "front double biceps", Count(2, 1), Length(4), Length(2)),
        Placed("bbbbbbbb", "side chest left", Count(4, 1), Length(4), Length(2)),
        Placed("cccccccc", "back lat spread", Count(6, 1), Length(4), Length(2)),
    )
    part = Section("dddddddd", "Opening", Count(1, 1), Count(3, 1))
    stage = StagePart(0.0, 78.0)
    return Routine("Made", "song.wav", rules="open-90", stage=stage, poses=poses, sections=(part,))


@pytest.fixture(autouse=True)
def nobody(monkeypatch, tmp_path_factory):
    """Rule sets and thresholds of this machine's user play no part."""
    home = tmp_path_factory.mktemp("settings")
    monkeypatch.setattr("platformdirs.user_config_path", lambda *a, **k: home)


@pytest.fixture
def folder(tmp_path) -> Path:
    folder = tmp_path / "made"
    folder.mkdir()
    soundfile.write(folder / "song.wav", TRACK.samples, RATE)
    save_folder(folder, make_routine(), make_map())
    return folder


@pytest.fixture
def clock() -> HandClock:
    return HandClock()


def decoded_as(track: Track):
    """`Workspace.decode` without a worker process: the song is `track`, at once."""

    def decode(workspace):
        workspace._song = workspace.routine.track
        workspace._decoded(track)

    return decode


def shown(qtbot, workspace, width, height) -> RoutinePage:
    """The page in a window of its own that has the keyboard."""
    page = RoutinePage(workspace)
    qtbot.addWidget(page)
    page.resize(width, height)
    page.show()
    page.activateWindow()
    qtbot.waitUntil(page.isActiveWindow)
    page.setFocus()
    return page


@pytest.fixture
def workspace(qapp, settings, folder, clock, monkeypatch):
    """The folder open, its song read without a worker process."""
    monkeypatch.setattr(Workspace, "decode", decoded_as(TRACK))
    workspace = Workspace(settings, make_player=lambda: clock)
    errors: list[str] = []
    workspace.errorRaised.connect(errors.append)
    workspace.errors = errors
    assert workspace.open(folder)
    yield workspace
    workspace.save()
    workspace.close()


@pytest.fixture
def page(qtbot, workspace):
    page = shown(qtbot, workspace, 1280, 720)
    yield page
    page.leave()


@pytest.fixture
def press(qtbot, page):
    """Press a key where the focus is."""

    def pressed(key, modifier=Qt.KeyboardModifier.NoModifier):
        qtbot.keyClick(page.focusWidget() or page, key, modifier)

    return pressed


@pytest.fixture
def write(qtbot, page):
    """Type where the focus is."""

    def written(text):
        qtbot.keyClicks(page.focusWidget() or page, text)

    return written


@pytest.fixture
def at_once(workspace, monkeypatch):
    """Work is done in this process; its results still cross over as events."""
    monkeypatch.setattr(workspace._jobs, "_workers", PromptWorkers)


@pytest.fixture
def drag(qtbot, page):
    """Drag with the left button over a widget, in small steps."""

    def dragged(widget, start, end, modifier=Qt.KeyboardModifier.NoModifier, release=True):
        first, last = QPoint(*map(round, start)), QPoint(*map(round, end))
        qtbot.mousePress(widget, Qt.MouseButton.LeftButton, modifier, first)
        for k in range(1, 6):
            there = first + (last - first) * k / 5
            qtbot.mouseMove(widget, there)
        if release:
            qtbot.mouseRelease(widget, Qt.MouseButton.LeftButton, modifier, last)

    return dragged


def hits(workspace) -> list[str]:
    """Hits as written, in the order of the music."""
    return [str(p.hit) for p in workspace.routine.poses]


def names(workspace) -> list[str]:
    """Poses in the order of the music."""
    return [p.pose for p in workspace.routine.poses]

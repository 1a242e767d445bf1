"""A Music page on a made song, with a player that only notes what it is asked to do."""

from __future__ import annotations

import numpy as np
import pytest
import soundfile

from rehearse.music.beatmap import BeatMap
from rehearse.music.decode import load_track
from rehearse.music.position import Count, Length
from rehearse.playback.segment import Now
from rehearse.routine.folder import save_folder
from rehearse.routine.model import Placed, Routine
from rehearse.ui.pages.music.page import MusicPage
from rehearse.ui.workspace import Workspace
from tests.ui.made import PromptWorkers

RATE = 22050


class NotingPlayer:
    """Stands in for the player; the test sets where the music is."""

    def __init__(self):
        self.source, self.playing, self.segments, self.starts = 0.0, False, [], []
        self.events = []

    def load(self, track):
        self.track = track

    def play(self, segment, *, at=None, repeat=True):
        self.segments.append(segment)
        self.starts.append(segment.start if at is None else at)
        self.source, self.playing, self.repeat = self.starts[-1], True, repeat

    def change(self, segment, *, repeat=True):
        self.segments.append(segment)

    def now(self):
        if not self.playing:
            return Now(source=self.source)
        return Now(source=self.source, key=self.segments[-1].key, pass_number=1, state="music")

    def poll(self):
        events, self.events = tuple(self.events), []
        return events

    def stop(self):
        self.playing = False

    def volume(self, kind, gain):
        pass

    def close(self):
        pass


def drums(beats, seconds, ones=4):
    """A kick on every beat, a snare on every second, a crash on every one; shape (n,)."""
    rng = np.random.default_rng(0)
    song = 1e-3 * rng.normal(size=int(seconds * RATE))
    t = np.arange(int(0.18 * RATE)) / RATE
    for k, beat in enumerate(beats):
        hit = 0.5 * np.sin(2 * np.pi * 70 * t) * np.exp(-18 * t)
        if k % 2:
            hit += 0.3 * rng.normal(size=len(t)) * np.exp(-25 * t)
        if k % ones == 0:
            hit += 0.3 * np.sin(2 * np.pi * 440 * t) * np.exp(-8 * t)
        first = round(beat * RATE)
        song[first : first + len(t)] += hit[: max(0, len(song) - first)]
    return (0.8 * song / np.abs(song).max()).astype(np.float32)


@pytest.fixture
def open_page(qapp, settings, qtbot, tmp_path):
    """Open a page on a song with these beats and this map: `open_page(beats, seconds, map)`."""
    workspaces, pages = [], []

    def open_it(beats, seconds, make_map):
        folder = tmp_path / "routine"
        folder.mkdir()
        soundfile.write(folder / "song.wav", drums(beats, seconds), RATE)
        track = load_track(folder / "song.wav")
        beatmap = make_map(track)
        poses = (
            Placed("a", "front double biceps", Count(1, 1), Length(2), Length(1)),
            Placed("b", "side chest left", Count(2, 1), Length(2), Length(1)),
        )
        routine = Routine("Test", "song.wav", rules="open-60", poses=poses)
        save_folder(folder, routine, beatmap)
        workspace = Workspace(settings, make_workers=PromptWorkers, make_player=NotingPlayer)
        workspaces.append(workspace)
        assert workspace.open(folder)
        page = MusicPage(workspace)
        # Held until the last event is done: else the collector may take it away while it paints.
        pages.append(page)
        qtbot.addWidget(page)
        page.resize(1366, 680)
        page.show()
        qtbot.waitExposed(page)
        page.view.setFocus()
        qtbot.waitUntil(lambda: workspace.track is not None)
        return workspace, page

    yield open_it
    for workspace in workspaces:
        workspace.close()


def map_of(track, times, bar=4):
    """A map with these beats."""
    places = tuple(k % bar + 1 for k in range(len(times)))
    return BeatMap(track.content_hash, track.duration, tuple(times), places)

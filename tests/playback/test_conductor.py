"""The conductor with a supply whose moments of delivery the test decides."""

import numpy as np
import pytest

from rehearse.playback.conductor import Conductor
from rehearse.playback.mix import Mixer
from rehearse.playback.passage import Passage
from rehearse.playback.pieces import chunk_at, render_piece
from tests.helpers.playback_tools import RATE


class SlowSupply:
    """Delivers what was asked when the test says so."""

    def __init__(self, samples):
        self.samples, self.asked, self.kept = samples, {}, {}

    def get(self, piece):
        return self.kept.get(piece)

    def ask(self, piece, *, urgent):
        if piece not in self.kept:
            self.asked[piece] = self.asked.get(piece, False) or urgent
        return self.kept.get(piece)

    def waiting(self, *, urgent):
        return sum(1 for each in self.asked.values() if each == urgent)

    def forget(self):
        self.asked = {}

    def deliver(self, kind=None):
        for piece in [p for p in self.asked if kind in (None, p.kind)]:
            del self.asked[piece]
            self.kept[piece] = render_piece(self.samples, RATE, piece)


@pytest.fixture
def stand(clicks):
    track, _ = clicks
    mixer, supply = Mixer(RATE), SlowSupply(track.samples)
    return mixer, supply, Conductor(mixer, supply, track.samples)


def run(mixer, conductor, seconds, supply=None):
    sound = []
    for _ in range(round(seconds * RATE / 1024)):
        conductor.step()
        if supply is not None:
            supply.deliver()
        sound.append(mixer.pull(1024))
    return np.concatenate(sound)


def test_full_tempo_starts_with_the_next_block(stand):
    mixer, _, conductor = stand
    conductor.play(Passage("a", 1.0, 3.0), None, True, False)
    assert run(mixer, conductor, 0.05).any()


def test_slow_music_starts_with_its_opening_and_does_not_run_dry(stand):
    mixer, supply, conductor = stand
    conductor.play(Passage("a", 1.0, 9.0, 0.6), None, True, False)
    assert not run(mixer, conductor, 0.2).any()
    assert [piece.kind for piece, urgent in supply.asked.items() if urgent] == ["opening"]
    supply.deliver("opening")
    conductor.step()
    assert run(mixer, conductor, 0.1).any()
    run(mixer, conductor, 30, supply)
    assert mixer.missing == 0


def test_later_passes_use_the_whole_rendering(stand):
    mixer, supply, conductor = stand
    conductor.play(Passage("a", 1.0, 3.0, 0.8), None, True, False)
    run(mixer, conductor, 2.6, supply)
    lap, reel, _, _ = mixer.place
    assert reel is lap.reel
    assert len(reel._blocks) == 1


def test_a_count_in_starts_at_once(stand):
    mixer, _, conductor = stand
    conductor.play(Passage("a", 1.0, 3.0, 0.8, lead=1.0), None, True, False)
    run(mixer, conductor, 0.05)
    assert mixer.place is not None
    assert mixer.place[2] < 0


def test_what_plays_goes_on_until_the_new_tempo_is_ready(stand):
    mixer, supply, conductor = stand
    conductor.play(Passage("a", 1.0, 9.0, 0.8), None, True, False)
    run(mixer, conductor, 1.0, supply)
    conductor.play(Passage("a", 1.0, 9.0, 0.5), None, True, True)
    run(mixer, conductor, 0.3)
    assert mixer.place[0].span.tempo == 0.8
    before = mixer.place[0].span.source_of(mixer.place[2])
    supply.deliver("opening")
    conductor.step()
    run(mixer, conductor, 0.1)
    assert mixer.place[0].span.tempo == 0.5
    after = mixer.place[0].span.source_of(mixer.place[2])
    assert before < after < before + 0.1
    assert mixer.missing == 0


def test_a_change_near_the_end_of_a_loop_finds_its_place_in_the_next_pass(stand):
    mixer, supply, conductor = stand
    conductor.play(Passage("a", 1.0, 3.0), None, True, False)
    run(mixer, conductor, 1.9, supply)
    conductor.play(Passage("a", 1.0, 3.0, 0.6), None, True, True)
    run(mixer, conductor, 0.4)  # the loop begins anew before the opening is there
    assert mixer.place[2] < RATE
    run(mixer, conductor, 1.0, supply)
    assert mixer.place[0].span.tempo == 0.6
    assert mixer.missing == 0
    assert mixer.place[0].span.source_of(mixer.place[2]) < 2.2


def test_the_neighbouring_steps_are_prepared(stand):
    mixer, supply, conductor = stand
    conductor.play(Passage("a", 1.0, 9.0, 0.8), None, True, False)
    run(mixer, conductor, 1.0, supply)
    for tempo in (0.75, 0.85):
        assert supply.get(chunk_at(2.0 * RATE, RATE, tempo)) is not None
    conductor.play(Passage("a", 1.0, 9.0, 0.75), None, True, True)
    mixer.pull(512)
    assert mixer.place[0].span.tempo == 0.75


def test_only_the_last_of_many_wishes_is_played(stand):
    mixer, supply, conductor = stand
    for tempo in (0.9, 0.8, 0.7, 0.6):
        conductor.play(Passage("a", 1.0, 9.0, tempo), None, True, True)
        conductor.step()
    assert {piece.tempo for piece, urgent in supply.asked.items() if urgent} == {0.6}
    run(mixer, conductor, 1.0, supply)
    assert mixer.place[0].span.tempo == 0.6


def test_what_follows_is_ready_before_its_turn(stand):
    mixer, supply, conductor = stand
    conductor.play(Passage("a", 1.0, 2.0), None, True, False)
    run(mixer, conductor, 0.3, supply)
    conductor.then(Passage("b", 4.0, 6.0, 0.7), False)
    run(mixer, conductor, 5.0, supply)
    assert mixer.missing == 0
    assert [(mark.span.key, mark.motion) for mark in mixer.marks if mark.began] == [
        ("a", "running"),
        ("b", "running"),
    ]
    assert mixer.place is None


def test_then_also_counts_for_a_passage_that_has_not_started_yet(stand):
    mixer, supply, conductor = stand
    conductor.play(Passage("a", 1.0, 2.0, 0.9), None, True, False)
    conductor.then(None, False)
    run(mixer, conductor, 3.0, supply)
    assert mixer.place is None
    assert [mark.span.key for mark in mixer.marks if mark.began] == ["a"]


def test_a_jump_at_full_tempo_is_the_track_itself(stand, clicks):
    mixer, supply, conductor = stand
    conductor.play(Passage("a", 1.0, 9.0, 0.8), None, True, False)
    run(mixer, conductor, 0.5, supply)
    conductor.play(Passage("a", 1.0, 9.0), 5.0, True, False)
    sound = run(mixer, conductor, 0.5, supply)[-4096:]
    _, _, j, _ = mixer.place
    frame = RATE + j - len(sound) - mixer._limiter.margin
    assert np.array_equal(sound, clicks[0].samples[frame : frame + len(sound)])

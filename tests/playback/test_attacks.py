"""Attacks: found where they are and nowhere else, alike in any part of a track, and kept crisp."""

import gc
import weakref
from itertools import pairwise

import numpy as np
import pytest

from rehearse.playback.attacks import attacks_of, find_attacks
from rehearse.playback.loop_pass import LoopPass
from rehearse.playback.segment import Segment
from rehearse.playback.stretch import stretch
from rehearse.playback.stretch_chunks import (
    StretchChunk,
    render_buffer,
    render_chunk,
    render_shared,
)
from rehearse.work.shared import Shared
from tests.helpers import attack_measures
from tests.helpers.playback_tools import RATE, made
from tests.helpers.stretch_measures import drums

SECONDS = np.arange(4 * RATE) / RATE


@pytest.fixture(scope="module")
def beaten():
    audio, times = drums(1, 6.0)
    audio.setflags(write=False)
    return audio, np.round(times * RATE).astype(int)


def sharp(found):
    return found.frames[~found.soft]


def both(wave):
    return np.repeat(np.asarray(wave, np.float32)[:, None], 2, axis=1)


@pytest.mark.parametrize("seed", [1, 4])
def test_every_hit_is_found_within_a_quarter_of_a_millisecond(seed):
    audio, times = drums(seed, 8.0)
    found = sharp(find_attacks(audio, RATE))
    for hit in times * RATE:
        assert np.abs(found - hit).min() < 0.00025 * RATE
    beside = [at for at in found if np.abs(times * RATE - at).min() > 0.003 * RATE]
    assert len(beside) <= 2  # where the chord begins and where it is cut off


@pytest.mark.parametrize("pitch", [41.2, 55.0, 98.0])
def test_the_pulses_of_a_low_saw_are_no_attacks(pitch):
    saw = both(0.3 * (2 * (SECONDS * pitch % 1) - 1))
    assert len(find_attacks(saw, RATE).frames) <= 2  # its beginning


def test_noise_and_vibrato_are_no_attacks():
    rng = np.random.default_rng(1)
    noise = (0.1 * rng.standard_normal((4 * RATE, 2))).astype(np.float32)
    assert len(find_attacks(noise, RATE).frames) <= 2
    bend = np.sin(2 * np.pi * 5.5 * SECONDS)
    string = sum(np.sin(2 * np.pi * f * SECONDS + 4 * f / 440 * bend) for f in (220, 440, 660, 880))
    assert len(find_attacks(both(0.05 * string), RATE).frames) <= 2


def test_a_bowed_note_over_others_is_a_soft_attack():
    held = sum(np.sin(2 * np.pi * f * SECONDS) for f in (147.0, 220.0, 294.0, 588.0))
    bowed = sum(np.sin(2 * np.pi * 392 * h * SECONDS) / h for h in range(1, 8))
    swell = np.clip((SECONDS - 2) / 0.04, 0, 1)
    found = find_attacks(both(0.05 * held + 0.05 * swell * bowed), RATE)
    late = found.frames > RATE
    assert found.soft[late].tolist() == [True]
    assert 1.96 < found.frames[late][0] / RATE < 2.03


def test_any_part_of_a_track_has_the_attacks_of_the_whole(beaten):
    audio, _ = beaten
    whole = find_attacks(audio, RATE)
    ends = [0, 5_001, 70_000, 70_700, 200_123, len(audio)]
    parts = [find_attacks(audio, RATE, a, b) for a, b in pairwise(ends)]
    assert np.array_equal(np.concatenate([part.frames for part in parts]), whole.frames)
    assert np.array_equal(np.concatenate([part.soft for part in parts]), whole.soft)


def test_a_track_is_looked_through_once_as_long_as_it_lives(beaten):
    audio = beaten[0][: 2 * RATE].copy()
    assert attacks_of(audio, RATE) is not attacks_of(audio, RATE)  # it may have been written to
    audio.setflags(write=False)
    assert attacks_of(audio, RATE) is attacks_of(audio, RATE)
    gone = weakref.ref(attacks_of(audio, RATE))
    del audio
    gc.collect()
    assert gone() is None


def test_a_worker_finds_what_the_whole_track_has(beaten):
    """Pieces made before the track's attacks are known are those made after."""
    audio, _ = beaten
    chunk = StretchChunk("chunk", 3 * RATE, 5 * RATE, 0.6)
    known = attacks_of(audio, RATE)
    here = render_shared(Shared(audio), RATE, chunk, known.peak)
    assert np.array_equal(here, render_shared(Shared(audio), RATE, chunk, known.peak, known))
    assert np.array_equal(here, render_chunk(audio, RATE, chunk))


@pytest.mark.parametrize("tempo", [0.4, 0.5, 0.75, 0.9])
def test_hits_stay_crisp(beaten, tempo):
    """Bounds: pre-echo and share of energy from the study the repair follows."""
    audio, hits = beaten
    slow = stretch(audio, RATE, tempo)
    high = attack_measures.around(audio, slow, hits, RATE, tempo, "high")
    assert np.abs(np.median(high["peak"])) < 1.5
    assert np.percentile(high["hole"], 5) > -4
    assert np.percentile(high["after"], 95) < 20  # no click where the repair ends (once 41)
    before = attack_measures.envelope(slow, RATE, "high")
    for hit in np.round(hits[1:-1] / tempo).astype(int):
        echo = before[hit - round(0.05 * RATE) : hit - round(0.005 * RATE)].mean()
        assert echo < 10**-4.5 * before[hit : hit + round(0.01 * RATE)].mean()


def test_a_file_that_begins_on_a_hit_begins_with_that_hit(beaten):
    audio, hits = beaten
    begun = audio[hits[2] :].copy()
    slow = stretch(begun, RATE, 0.5)[:400].mean(axis=1)
    assert np.corrcoef(slow, begun[:400].mean(axis=1))[0, 1] > 0.9


@pytest.mark.parametrize("tempo", [0.5, 0.8])
def test_nothing_rises_above_the_sources_peak(tempo):
    """Full-scale, clipped music with a bass that the stretch turns against its kick."""
    rng = np.random.default_rng(3)
    audio = drums(3, 5.0)[0].astype(np.float64)
    seconds = np.arange(len(audio)) / RATE
    bass = np.sign(
        np.sin(2 * np.pi * 55 * seconds + np.cumsum(rng.standard_normal(len(audio))) / 900)
    )
    loud = np.clip(1.4 * audio + 0.2 * bass[:, None], -0.9, 0.9).astype(np.float32)
    slow = stretch(loud, RATE, tempo)
    assert np.abs(slow).max() <= np.abs(loud).max() * 10 ** (0.3 / 20)
    levels = [10 * np.log10((sound**2).mean()) for sound in (loud, slow)]
    assert abs(levels[1] - levels[0]) < 1.0


def test_pieces_have_their_attacks_where_the_whole_has_them(beaten):
    audio, hits = beaten
    track, tempo = made(audio), 0.5
    loop_pass = LoopPass.of(Segment("a", 0.0, 5.5, tempo), RATE)
    whole = render_buffer(track.samples, loop_pass).read(0, loop_pass.frames)[0]
    whole = attack_measures.envelope(whole, RATE, "high")
    for first in (0, 2):
        chunk = StretchChunk("chunk", first * RATE, (first + 3) * RATE, tempo)
        part = render_chunk(track.samples, RATE, chunk)[chunk.margin(RATE) :]
        part = attack_measures.envelope(part, RATE, "high")
        for hit in hits[(hits > (first + 0.1) * RATE) & (hits < (first + 2.8) * RATE)]:
            at, there = round(hit / tempo), round((hit - first * RATE) / tempo)
            rises = [
                np.argmax(sound[place - 400 : place + 400] > sound[place : place + 400].max() / 4)
                for sound, place in ((whole, at), (part, there))
            ]
            assert abs(int(rises[0]) - int(rises[1])) < 0.0003 * RATE


def test_held_tones_do_not_dip_under_kicks():
    """Today's bound: 5 dB; without the repair the same tones dip by 12 dB."""
    rng = np.random.default_rng(3)
    seconds = np.arange(6 * RATE) / RATE
    sound = sum(0.03 * np.sin(2 * np.pi * f * seconds + f) for f in (330.3, 523.25, 987.8, 2793.8))
    hits = [round((0.5 + 0.5 * k) * RATE) for k in range(10)]
    for hit in hits:
        q = np.arange(round(0.15 * RATE)) / RATE
        snare = (0.3 * rng.standard_normal(len(q)) + np.sin(2 * np.pi * 185 * q)) * np.exp(
            -q / 0.02
        )
        sound[hit : hit + len(q)] += 0.5 * snare
    audio = both(sound)
    dips, _ = attack_measures.held(audio, stretch(audio, RATE, 0.5), hits, RATE, 0.5)
    assert len(dips) > 20
    assert np.percentile(dips, 5) > -5

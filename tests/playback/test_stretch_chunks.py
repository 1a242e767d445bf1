"""Stretched music from pieces: attacks in place, joins unheard, nothing missing."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rehearse.playback.loop_pass import AHEAD, AudioBuffer, LoopPass
from rehearse.playback.segment import Segment
from rehearse.playback.stretch_chunks import (
    Feed,
    StretchChunk,
    chunk_at,
    opening_at,
    render_buffer,
    render_chunk,
    whole_of,
)
from rehearse.playback.timeline import Span
from tests.helpers.playback_tools import RATE, made, onsets


def loop_pass_at(tempo, start=1.0, end=11.0):
    return LoopPass.of(Segment("a", start, end, tempo), RATE)


def fed(track, loop_pass, j=0):
    feed = Feed(loop_pass.span, j)
    chunk = opening_at(feed.next_source, RATE, loop_pass.span.tempo)
    assert feed.add(chunk, render_chunk(track.samples, RATE, chunk))
    while not feed.complete:
        chunk = chunk_at(feed.next_source, RATE, loop_pass.span.tempo)
        assert feed.add(chunk, render_chunk(track.samples, RATE, chunk))
    return feed.buffer


@pytest.mark.parametrize("tempo", [0.5, 0.75, 1.05])
def test_pieces_keep_attacks_where_the_whole_has_them(clicks, tempo):
    track, times = clicks
    loop_pass = loop_pass_at(tempo)
    whole, _ = render_buffer(track.samples, loop_pass).read(0, loop_pass.frames)
    parts, missing = fed(track, loop_pass).read(0, loop_pass.frames)
    assert missing == 0
    inside = times[(times > 1.05) & (times < 10.9)]
    for sound in (whole, parts):
        error = 1000 * (onsets(sound)[-len(inside) :] - (inside - 1.0) / tempo)
        error -= 1000 * np.median(onsets(track.samples) - times) / tempo  # the measure's own bias
        assert abs(np.median(error)) < 1.0
        assert np.percentile(np.abs(error), 95) < 3.0


def test_joins_are_not_heard_in_a_steady_tone():
    tone = made(0.4 * np.sin(2 * np.pi * 440 * np.arange(12 * RATE) / RATE))
    loop_pass = loop_pass_at(0.6)
    sound, _ = fed(tone, loop_pass).read(0, loop_pass.frames)
    curve = np.abs(np.diff(sound[:, 0], 2))
    assert curve.max() < 2 * np.percentile(curve, 99)
    level = np.sqrt(np.convolve(sound[:, 0] ** 2, np.ones(400) / 400, "valid"))
    assert level.min() > 0.25 * np.median(level)


def test_a_feed_may_begin_anywhere_and_says_what_it_needs_next(clicks):
    track, _ = clicks
    loop_pass = loop_pass_at(0.7)
    j = 3 * RATE
    buffer = fed(track, loop_pass, j)
    assert buffer.first == j - round(AHEAD * RATE)
    sound, missing = buffer.read(
        j - round(AHEAD * RATE), loop_pass.frames - j + round(AHEAD * RATE)
    )
    assert missing == 0
    whole, _ = render_buffer(track.samples, loop_pass).read(j, loop_pass.frames - j)
    here, there = onsets(sound), onsets(whole)
    assert np.abs(here[-8:] - there[-8:] - AHEAD).max() < 0.003


def test_a_piece_from_elsewhere_is_refused(clicks):
    track, _ = clicks
    feed = Feed(loop_pass_at(0.7).span, 0)
    late = opening_at(feed.next_source + RATE, RATE, 0.7)
    assert not feed.add(late, render_chunk(track.samples, RATE, late))
    early = StretchChunk("opening", 0, RATE // 2, 0.7)
    assert not feed.add(early, render_chunk(track.samples, RATE, early))
    assert feed.buffer.end == feed.buffer.first


@given(
    first=st.integers(0, 5_000_000),
    frames=st.integers(1000, 4_000_000),
    tempo=st.floats(0.4, 1.05),
    rate=st.sampled_from([8_000, 22_050, 44_100, 48_000, 96_000]),
    part=st.floats(0, 1),
)
def test_every_piece_asked_for_fits(first, frames, tempo, rate, part):
    """Wherever a feed begins, opening and chunks join on; no rounding may leave it waiting."""
    span = Span("a", tempo, rate, first, first + frames, max(1, round(frames / tempo)))
    feed = Feed(span, int(part * (span.frames - 1)))
    for kind in ("opening", "chunk", "chunk", "chunk"):
        if feed.complete:
            break
        at = opening_at if kind == "opening" else chunk_at
        chunk = at(feed.next_source, rate, tempo)
        length = 2 * chunk.margin(rate) + round((chunk.last - chunk.first) / tempo)
        end = feed.buffer.end
        assert feed.add(chunk, np.broadcast_to(np.zeros(2, np.float32), (length, 2)))
        assert feed.buffer.end > end
        only = Feed(span, feed.buffer.end)  # a start at any place may find its chunk ready
        chunk = chunk_at(only.next_source, rate, tempo)
        length = 2 * chunk.margin(rate) + round((chunk.last - chunk.first) / tempo)
        assert only.add(chunk, np.broadcast_to(np.zeros(2, np.float32), (length, 2)))


def test_the_edges_of_the_track_are_silence(clicks):
    track, _ = clicks
    loop_pass = LoopPass.of(Segment("a", 0.0, 12.0, 0.8), RATE)
    buffer = render_buffer(track.samples, loop_pass)
    assert buffer.read(0, loop_pass.frames)[1] == 0
    beyond = render_chunk(track.samples, RATE, StretchChunk("chunk", 30 * RATE, 33 * RATE, 0.8))
    assert not beyond.any()


def test_long_passages_are_not_made_whole():
    assert whole_of(loop_pass_at(0.5, 0.0, 39.0).span) is not None
    assert whole_of(loop_pass_at(0.5, 0.0, 41.0).span) is None


def test_a_reel_reads_across_its_blocks_and_counts_what_is_missing():
    buffer = AudioBuffer(-3)
    buffer.append(np.ones((5, 2), np.float32))
    buffer.append(np.full((4, 2), 2, np.float32))
    sound, missing = buffer.read(-5, 14)
    assert sound[:, 0].tolist() == [0, 0, 1, 1, 1, 1, 1, 2, 2, 2, 2, 0, 0, 0]
    assert missing == 5
    assert buffer.read(20, 3)[1] == 3
    assert AudioBuffer(0).read(0, 3)[1] == 3

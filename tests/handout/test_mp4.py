"""Pictures become a video on a second thread: at once with the painting, in order, bounded."""

from __future__ import annotations

import io
import threading
from concurrent.futures import Future, ThreadPoolExecutor
from fractions import Fraction

import av
import numpy as np
import pytest

from rehearse.files.user_error import UserError
from rehearse.handout import mp4_muxer
from rehearse.handout import mp4_writer as mp4
from rehearse.handout.mp4_writer import RATE, write_mp4

SIZE, COUNT, PATIENCE = (96, 64), 45, 10.0


@pytest.fixture(scope="module")
def sound():
    """A second and a half of silence as m4a."""
    kept = io.BytesIO()
    with av.open(kept, "w", format="mp4") as file:
        stream = file.add_stream("aac", rate=48000, layout="mono")
        for at in range(0, 72000, 1024):
            block = av.AudioFrame.from_ndarray(np.zeros((1, 1024), "f"), "fltp", "mono")
            block.sample_rate, block.pts, block.time_base = 48000, at, Fraction(1, 48000)
            file.mux(stream.encode(block))
        file.mux(stream.encode(None))
    return kept.getvalue()


def frames(told=lambda number: None):
    """One picture painted over again and again, as the stage is: a grey box that moves on."""
    pixels = np.zeros((SIZE[1], SIZE[0], 4), np.uint8)
    for k in range(COUNT):
        told(k)
        x, before = 2 * k % 70 + 1, (2 * k - 2) % 70 + 1
        pixels[10:31, before : before + 21] = 0
        pixels[10:31, x : x + 21] = 60 + 4 * k
        yield pixels, [(min(x, before), 10, max(x, before) + 21, 31)]


def brightest(path):
    with av.open(str(path)) as file:
        return [int(frame.to_ndarray(format="gray").max()) for frame in file.decode(video=0)]


def test_every_picture_is_the_one_painted_for_it_and_the_same_each_time(tmp_path, sound):
    made = [tmp_path / "a.mp4", tmp_path / "b.mp4"]
    for path in made:
        write_mp4(path, SIZE, frames, sound, count=COUNT)
    assert made[0].read_bytes() == made[1].read_bytes()
    seen = brightest(made[0])
    # ITU-R BT.709, limited range: a grey of v is decoded as v again, give or take the coding.
    assert np.abs(np.subtract(seen, [60 + 4 * k for k in range(COUNT)])).max() <= 8


def test_the_next_pictures_are_painted_while_one_is_encoded_but_only_a_few(
    tmp_path, sound, monkeypatch
):
    painted, most, further = [], [], threading.Event()
    add = mp4._Encoder.add

    def slow(encoder, number, pieces):
        if number == 0:
            assert further.wait(PATIENCE), "nothing was painted meanwhile"
        most.append(painted[-1] - number)
        add(encoder, number, pieces)

    def told(number):
        painted.append(number)
        if number == 3:
            further.set()

    monkeypatch.setattr(mp4._Encoder, "add", slow)
    write_mp4(tmp_path / "a.mp4", SIZE, lambda: frames(told), sound, count=COUNT)
    assert max(most) <= mp4._AHEAD + 1
    assert len(brightest(tmp_path / "a.mp4")) == COUNT == int(1.5 * RATE)


def test_what_goes_wrong_while_encoding_is_raised_and_nothing_is_left(tmp_path, sound, monkeypatch):
    def fail(encoder, number, pieces):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(mp4._Encoder, "add", fail)
    before = threading.active_count()
    with pytest.raises(Exception, match="full"):
        write_mp4(tmp_path / "a.mp4", SIZE, frames, sound, count=COUNT)
    assert threading.active_count() == before
    assert list(tmp_path.iterdir()) == []


def test_pictures_that_take_too_many_bits_are_begun_again_with_their_bits_bounded(
    tmp_path, sound, monkeypatch
):
    begun, noise = [], np.random.default_rng(1).integers(0, 256, (COUNT, *SIZE[::-1], 4), np.uint8)

    def noisy():
        begun.append(len(begun))
        return ((picture, [(0, 0, *SIZE)]) for picture in noise)

    monkeypatch.setattr(mp4, "_MOST_BITS", 400_000)
    monkeypatch.setitem(mp4._BOUNDED, "maxrate", "400000")
    monkeypatch.setitem(mp4._BOUNDED, "bufsize", "400000")
    write_mp4(tmp_path / "a.mp4", SIZE, noisy, sound, count=COUNT)
    assert begun == [0, 1]
    with av.open(str(tmp_path / "a.mp4")) as file:
        sizes = [packet.size for packet in file.demux(file.streams.video[0]) if packet.size]
    assert len(sizes) == COUNT
    # A second and a half at this rate, and what the buffer held at the beginning.
    assert 8 * sum(sizes) <= 400_000 * (COUNT / RATE + 1)


def test_a_piece_is_converted_alike_whatever_was_converted_before():
    pixels = np.random.default_rng(2).integers(0, 256, (*SIZE[::-1], 4), np.uint8)
    converter = mp4._Converter()
    rects = [(0, 0, 90, 6), (3, 5, 40, 64), (0, 0, 90, 6), (50, 9, 61, 11)]
    kept = [converter.pieces(pixels, [rect])[0] for rect in rects]
    for rect, (left, top, planes) in zip(rects, kept, strict=True):
        fresh = mp4._Converter().pieces(pixels.copy(), [rect])[0]
        assert (left, top) == fresh[:2]
        for plane, other in zip(planes, fresh[2], strict=True):
            assert np.array_equal(plane, other)


def test_a_sound_that_is_done_late_gives_the_same_file(tmp_path, sound):
    late, painted = Future(), []
    write_mp4(tmp_path / "early.mp4", SIZE, frames, sound, count=COUNT)

    def told(number):
        painted.append(late.done())
        if number == COUNT - 2:
            late.set_result(sound)

    write_mp4(tmp_path / "late.mp4", SIZE, lambda: frames(told), late, count=COUNT)
    assert painted[20] is False
    assert (tmp_path / "late.mp4").read_bytes() == (tmp_path / "early.mp4").read_bytes()


def test_few_pictures_wait_for_the_sound(tmp_path, sound, monkeypatch):
    late, painted, waits = Future(), [], threading.Event()
    monkeypatch.setattr(mp4_muxer, "_MOST_WAITING", 0)
    result = Future.result

    def told(number):
        painted.append(number)

    def patient(future, timeout=None):
        if future is late:
            waits.set()
        return result(future, timeout)

    monkeypatch.setattr(Future, "result", patient)
    with ThreadPoolExecutor(1) as beside:
        made = beside.submit(
            write_mp4, tmp_path / "a.mp4", SIZE, lambda: frames(told), late, count=COUNT
        )
        try:
            assert waits.wait(PATIENCE)
            assert late.done() is False
        finally:
            late.set_result(sound)
        made.result(PATIENCE)
    assert len(brightest(tmp_path / "a.mp4")) == COUNT


def test_what_goes_wrong_with_the_sound_is_raised_and_nothing_is_left(tmp_path):
    failed = Future()
    failed.set_exception(UserError("the cue track stays too loud"))
    with pytest.raises(UserError, match="too loud"):
        write_mp4(tmp_path / "a.mp4", SIZE, frames, failed, count=COUNT)
    assert list(tmp_path.iterdir()) == []

"""Small films made for the tests: a figure of bars that strikes poses in time with made music."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import soundfile

RATE = 16000


def music(seconds: float, seed: int = 5) -> np.ndarray:
    """Music that never repeats itself, shape (n,), 16 kHz: chords and knocks at random."""
    rng = np.random.default_rng(seed)
    n = round(seconds * RATE)
    out = 0.002 * rng.standard_normal(n)
    for start in np.arange(0, seconds, 0.25):
        t = np.arange(round(0.5 * RATE)) / RATE
        tones = np.sin(2 * np.pi * rng.uniform(220, 1800, (3, 1)) * t).sum(axis=0)
        tones += 2 * rng.standard_normal(len(t)) * np.exp(-t * 60)
        at = round(start * RATE)
        piece = (tones * np.exp(-t * 6))[: n - at]
        out[at : at + len(piece)] += 0.1 * piece
    return out.astype(np.float32)


def write_song(path: Path, sound: np.ndarray) -> Path:
    """The music as a file that can be read as a track."""
    soundfile.write(path, sound, RATE)
    return path


def min_jerk(part: float) -> float:
    """How far a minimum-jerk movement is after `part` of its time (Flash and Hogan 1985)."""
    part = min(1.0, max(0.0, part))
    return part**3 * (10 - 15 * part + 6 * part**2)


def write_film(
    path: Path,
    sound: np.ndarray,
    moves: Sequence[tuple[float, float]],
    *,
    size: tuple[int, int] = (240, 136),
    fps: int = 25,
    still: bool = False,
) -> Path:
    """A film as long as `sound`, in which the arms go up or down in each move (start, length)."""
    rng = np.random.default_rng(1)
    width, height = size
    room = rng.integers(60, 110, (height // 6 + 1, width // 6 + 1)).astype(np.uint8)
    room = np.kron(room, np.ones((6, 6), np.uint8))[:height, :width]
    with av.open(str(path), "w") as file:
        picture = file.add_stream("libx264", rate=fps, options={"preset": "ultrafast", "crf": "18"})
        picture.width, picture.height, picture.pix_fmt = width, height, "yuv420p"
        audio = file.add_stream("aac", rate=RATE, layout="mono")
        for k in range(round(len(sound) / RATE * fps)):
            up = 0.0
            for n, (start, length) in enumerate(moves):
                part = min_jerk((k / fps - start) / length)
                up += part if n % 2 == 0 else -part
            grey = _figure(room.copy(), 0.0 if still else up)
            grey = np.clip(grey + rng.normal(0, 2, grey.shape), 0, 255).astype(np.uint8)
            frame = av.VideoFrame.from_ndarray(grey, "gray").reformat(format="yuv420p")
            frame.pts, frame.time_base = k, Fraction(1, fps)
            file.mux(picture.encode(frame))
        for at in range(0, len(sound) - 1023, 1024):
            block = av.AudioFrame.from_ndarray(sound[None, at : at + 1024], "fltp", "mono")
            block.sample_rate, block.pts, block.time_base = RATE, at, Fraction(1, RATE)
            file.mux(audio.encode(block))
        file.mux(picture.encode(None))
        file.mux(audio.encode(None))
    return path


def _figure(picture: np.ndarray, up: float) -> np.ndarray:
    height, width = picture.shape
    middle, floor = width // 2, round(0.92 * height)
    picture[round(0.3 * height) : floor, middle - 9 : middle + 9] = 200
    picture[round(0.16 * height) : round(0.28 * height), middle - 7 : middle + 7] = 215
    shoulder, arm = 0.36 * height, 0.3 * height
    for side in (-1, 1):
        angle = np.radians(70 - 150 * up)  # from hanging to raised
        for along in np.linspace(0, arm, 60):
            x = round(middle + side * (9 + along * np.cos(angle)))
            y = round(shoulder + along * np.sin(angle))
            picture[max(0, y - 3) : y + 4, max(0, x - 3) : x + 4] = 205
    return picture

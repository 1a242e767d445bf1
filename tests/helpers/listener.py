"""Hears what leaves the silent speaker, and when: samples with the time of each.

A null sink renders a block when the first sample of it is due, so the arrival of a block dates
its first sample; reading it late only ever adds, so the early ones among them date the stream.
"""

from __future__ import annotations

import os
import subprocess
import threading
import time

import numpy as np

from tests.helpers.sound_server import SoundServer

_BYTES = 8  # a frame of two float32
_PAUSE = 0.002  # s between two blocks at least


class Listener:
    """Records the speaker of `server` from `__enter__` to `__exit__`."""

    def __init__(self, server: SoundServer) -> None:
        self._server = server
        self._blocks: list[bytes] = []
        self._arrived: list[tuple[float, int]] = []

    def __enter__(self) -> Listener:
        command = [
            "parec", f"--device={self._server.sink}.monitor", "--format=float32le",
            f"--rate={self._server.rate}", "--channels=2", "--latency-msec=5", "--raw",
        ]  # fmt: skip
        self._process = subprocess.Popen(
            command, env=self._server.environment, stdout=subprocess.PIPE
        )
        self._thread = threading.Thread(target=self._read, name="listener")
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._process.terminate()
        self._process.wait()
        self._thread.join()
        self._process.stdout.close()

    def _read(self) -> None:
        stream = self._process.stdout.fileno()
        size = 0
        while block := os.read(stream, 1 << 16):
            size += len(block)
            self._blocks.append(block)
            self._arrived.append((time.perf_counter(), size // _BYTES))

    @property
    def samples(self) -> np.ndarray:
        """Everything heard, mono float32 (frames,)."""
        raw = np.frombuffer(b"".join(self._blocks), np.float32)
        return raw[: len(raw) // 2 * 2].reshape(-1, 2).mean(axis=1)

    @property
    def began(self) -> float:
        """`perf_counter` seconds at which the first sample left the speaker."""
        rate = self._server.rate
        firsts, (before, frames) = [], self._arrived[0]
        for arrived, total in self._arrived[1:]:
            # The first second is left out: the stream is still finding its latency.
            if arrived - before > _PAUSE and frames > rate:
                firsts.append(arrived - frames / rate)
            before, frames = arrived, total
        return float(np.percentile(firsts, 20))


def heard_at(heard: np.ndarray, expected: np.ndarray, around: int, reach: int) -> tuple[int, float]:
    """Frame of `heard` at which `expected` begins, searched within `reach` frames of `around`.

    Returns the frame and the normalised correlation there, by cross-correlation.
    """
    first = max(0, around - reach)
    window = heard[first : around + reach + len(expected)].astype(float)
    expected = expected.astype(float) - expected.mean()
    size = 1 << (len(window) + len(expected)).bit_length()
    product = np.fft.rfft(window, size) * np.conj(np.fft.rfft(expected, size))
    score = np.fft.irfft(product, size)[: len(window) - len(expected) + 1]
    best = int(np.argmax(score))
    part = window[best : best + len(expected)]
    scale = np.linalg.norm(part) * np.linalg.norm(expected) + 1e-12
    return first + best, float(score[best] / scale)

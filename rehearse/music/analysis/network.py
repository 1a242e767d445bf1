"""The beat network, in NumPy alone: what each frame of a song says about its beat.

A temporal convolutional network (Davies & Böck, "Temporal convolutional networks for musical
audio beat tracking", EUSIPCO 2019) of two convolutions over band energies and residual blocks of
rising dilation. How it was trained: `training`; on what, with which figures:
`resources/beat_network/card.md`.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
import numpy.typing as npt

from rehearse.files.locations import resource

Floats = npt.NDArray[np.float32]

#: Frames between the taps of each block's convolution.
DILATIONS = tuple(2**k for k in range(11))
#: Intervals between beats, in seconds, whose likelihood the network tells.
INTERVALS = np.geomspace(60 / 247.2, 60 / 38.8, 48)
OUTPUTS = 3 + len(INTERVALS)


@dataclass(frozen=True, eq=False)
class Activation:
    """What each frame says, as log odds; 50 frames a second, frame k centred on second k / 50.

    Args:
        beat: a beat against none, shape (t,).
        first: if it is a beat, the first of its bar against another, shape (t,).
        free: no beat to follow against one, shape (t,).
        tempo: logarithm of the probability of each of `INTERVALS`, shape (t, 48).
    """

    beat: Floats
    first: Floats
    free: Floats
    tempo: Floats

    @property
    def chance(self) -> Floats:
        """Probability of a beat at each frame, shape (t,)."""
        result: Floats = (1 / (1 + np.exp(-self.beat))).astype(np.float32)
        return result


@cache
def load_weights() -> dict[str, Floats]:
    """The network's arrays by name; kernels have shape (taps, inputs, outputs)."""
    with np.load(resource("beat_network/weights.npz")) as data:
        return {name: data[name].astype(np.float32) for name in data.files}


def activation_of(energies: Floats, weights: dict[str, Floats] | None = None) -> Activation:
    """What the network makes of band energies, shape (t, bands)."""
    out = forward(energies, load_weights() if weights is None else weights)
    tempo = out[:, 3:] - out[:, 3:].max(axis=1, keepdims=True)
    tempo -= np.log(np.exp(tempo).sum(axis=1, keepdims=True))
    return Activation(out[:, 0], out[:, 1], out[:, 2], tempo)


def forward(energies: Floats, weights: dict[str, Floats]) -> Floats:
    """The network's last layer, shape (t, `OUTPUTS`), for band energies of shape (t, bands)."""
    x = (energies - weights["mean"]) * weights["scale"]
    for k in range(2):
        x = np.maximum(_convolve(x, weights[f"front{k}.kernel"], 1) + weights[f"front{k}.bias"], 0)
    for k, dilation in enumerate(DILATIONS):
        found = _convolve(x, weights[f"block{k}.kernel"], dilation) + weights[f"block{k}.bias"]
        x = x + np.maximum(found, 0) @ weights[f"block{k}.mix"][0] + weights[f"block{k}.mix_bias"]
    result: Floats = np.maximum(x, 0) @ weights["out.kernel"][0] + weights["out.bias"]
    return result


def _convolve(x: Floats, kernel: Floats, dilation: int) -> Floats:
    """Convolution over time with zeros beyond the ends; the middle tap stands on the frame."""
    frames, middle = len(x), len(kernel) // 2
    out = np.zeros((frames, kernel.shape[2]), np.float32)
    for tap, matrix in enumerate(kernel):
        shift = (tap - middle) * dilation
        start, stop = max(0, -shift), min(frames, frames - shift)
        if start < stop:
            out[start:stop] += x[start + shift : stop + shift] @ matrix
    return out

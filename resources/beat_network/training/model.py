"""The beat network in torch: a temporal convolutional network over band energies.

Dilated convolutions over time with residual connections (Bai, Kolter & Koltun, "An empirical
evaluation of generic convolutional and recurrent networks for sequence modeling", 2018), not
causal, as Davies & Böck, "Temporal convolutional networks for musical audio beat tracking",
EUSIPCO 2019, first used them for beats. It hears 41 s to either side of each frame.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import torch
from torch import nn

from rehearse.music.analysis.features import BANDS
from rehearse.music.analysis.network import DILATIONS, OUTPUTS

_FIRST, _WIDTH = 64, 40


class Block(nn.Module):  # type: ignore[misc]
    """One residual step: a dilated convolution of five taps, and a mix of what it finds."""

    def __init__(self, dilation: int, dropout: float) -> None:
        super().__init__()
        self.wide = nn.Conv1d(
            _WIDTH, _WIDTH, 5, padding=2 * dilation, dilation=dilation, bias=False
        )
        self.norm = nn.BatchNorm1d(_WIDTH)
        self.mix = nn.Conv1d(_WIDTH, _WIDTH, 1)
        self.dropout = nn.Dropout1d(dropout)

    def forward(self, x: torch.Tensor) -> torch.Tensor:
        """(batch, width, frames) to the same."""
        found = self.dropout(torch.relu(self.norm(self.wide(x))))
        result: torch.Tensor = x + self.mix(found)
        return result


class BeatNetwork(nn.Module):  # type: ignore[misc]
    """Band energies to log odds of beat, first beat and free time, and of each tempo."""

    def __init__(self, dropout: float = 0.03) -> None:
        super().__init__()
        self.register_buffer("mean", torch.zeros(BANDS))
        self.register_buffer("scale", torch.ones(BANDS))
        sizes = ((BANDS, _FIRST), (_FIRST, _WIDTH))
        front = [nn.Conv1d(i, o, 3, padding=1, bias=False) for i, o in sizes]
        self.front = nn.ModuleList(front)
        self.front_norms = nn.ModuleList([nn.BatchNorm1d(_FIRST), nn.BatchNorm1d(_WIDTH)])
        self.dropout = nn.Dropout1d(dropout)
        self.blocks = nn.ModuleList([Block(d, dropout) for d in DILATIONS])
        self.out = nn.Conv1d(_WIDTH, OUTPUTS, 1)

    def forward(self, energies: torch.Tensor) -> torch.Tensor:
        """(batch, frames, bands) to (batch, frames, outputs)."""
        x = ((energies - self.mean) * self.scale).transpose(1, 2)
        for conv, norm in zip(self.front, self.front_norms, strict=True):
            x = self.dropout(torch.relu(norm(conv(x))))
        for block in self.blocks:
            x = block(x)
        result: torch.Tensor = self.out(torch.relu(x)).transpose(1, 2)
        return result

    def weights(self) -> dict[str, Any]:
        """The arrays `network.py` reads, with every normalization folded into its convolution."""
        arrays = {"mean": self.mean, "scale": self.scale}
        for k, (conv, norm) in enumerate(zip(self.front, self.front_norms, strict=True)):
            arrays[f"front{k}.kernel"], arrays[f"front{k}.bias"] = _folded(conv, norm)
        for k, block in enumerate(self.blocks):
            arrays[f"block{k}.kernel"], arrays[f"block{k}.bias"] = _folded(block.wide, block.norm)
            arrays[f"block{k}.mix"] = block.mix.weight.permute(2, 1, 0)
            arrays[f"block{k}.mix_bias"] = block.mix.bias
        arrays["out.kernel"], arrays["out.bias"] = self.out.weight.permute(2, 1, 0), self.out.bias
        return {k: v.detach().cpu().float().numpy().astype(np.float32) for k, v in arrays.items()}


def _folded(conv: Any, norm: Any) -> tuple[torch.Tensor, torch.Tensor]:
    gain = norm.weight / torch.sqrt(norm.running_var + norm.eps)
    kernel = (conv.weight * gain[:, None, None]).permute(2, 1, 0)
    return kernel, norm.bias - norm.running_mean * gain

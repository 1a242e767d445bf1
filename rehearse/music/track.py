"""A decoded track. The sample index is the project's only musical clock."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Samples = npt.NDArray[np.float32]
else:
    Samples = Any  # the window opens before NumPy is loaded


@dataclass(frozen=True, eq=False)
class Track:
    """One song, decoded whole.

    Args:
        samples: float32, shape (frames, 2), C-contiguous, read-only, full scale ±1.
        sample_rate: frames a second, 8000–192000.
        content_hash: names the sound whatever its file is called; of a file, made by `load_track`
            from the encoded sound; of samples made in memory, `hash_samples`.
        title: the file's name without its ending, for the screen.
    """

    samples: Samples
    sample_rate: int
    content_hash: str
    title: str = ""

    @property
    def frames(self) -> int:
        """Number of frames."""
        return len(self.samples)

    @property
    def duration(self) -> float:
        """Length in seconds."""
        return self.frames / self.sample_rate


def hash_samples(samples: Samples, sample_rate: int) -> str:
    """A name for the audio itself: SHA-256 over rate and 16-bit rounded samples, 32 hex digits.

    Rounded, because decoders of different versions differ in the last float bits.
    """
    import numpy as np

    digest = hashlib.sha256(f"{sample_rate}:{samples.shape}".encode())
    for start in range(0, len(samples), 1 << 20):
        block = np.clip(samples[start : start + (1 << 20)], -1.0, 1.0)
        digest.update(np.round(block * 8191).astype("<i2").tobytes())
    return digest.hexdigest()[:32]

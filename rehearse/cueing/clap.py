"""The clap before a run that is filmed: a sound that a film's sound can be searched for.

Music that repeats itself, or that the room drowns, does not tell where in a film a run begins; a
sound that comes once does. It is a roll of claps at uneven distances, the same every time: a
matched filter (Turin 1960) adds all of them up at one place only.
"""

from __future__ import annotations

import functools
from typing import TYPE_CHECKING

from rehearse.cueing.count_in import count_length
from rehearse.music.beatmap import BeatMap

if TYPE_CHECKING:
    from rehearse.music.track import Samples

#: Counts of the count-in of a filmed run; the clap is on the count before them.
COUNTS = 4
#: Seconds from the first clap to each of the roll.
_ROLL = (0.0, 0.047, 0.081, 0.138, 0.171, 0.236)
#: Seconds in which one dies away, Hz between which it sounds, and the seed of its noise.
_DECAY, _BAND, _SEED = 0.012, (700.0, 3300.0), 7


def clap_before(beatmap: BeatMap, start: float, tempo: float = 1.0) -> float:
    """Seconds heard from the clap to the music, which begins at second `start` of the track."""
    return (COUNTS + 1) * count_length(beatmap, start) / tempo


@functools.lru_cache(maxsize=4)
def clap(sample_rate: int) -> Samples:
    """The clap, shape (n,), float32; the same sound at every rate, its onset at sample 0."""
    import numpy as np  # the cues are shown before there is a need for it

    rng = np.random.default_rng(_SEED)
    length = _ROLL[-1] + 8 * _DECAY
    frames = round(length * sample_rate)
    # Noise by its spectrum, so that it is the same noise at any rate.
    lines = np.arange(round(_BAND[0] * length), round(_BAND[1] * length))
    phases = rng.uniform(0, 2 * np.pi, (len(_ROLL), len(lines)))
    time = np.arange(frames) / sample_rate
    made, spectrum = np.zeros(frames), np.zeros(frames // 2 + 1, np.complex128)
    for at, phase in zip(_ROLL, phases, strict=True):
        since = time - at
        spectrum[lines] = np.exp(1j * phase)
        tones = np.fft.irfft(spectrum, frames)
        made += np.where(since >= 0, np.exp(-np.maximum(since, 0) / _DECAY), 0) * tones
    sound = np.asarray(0.7 * made / np.abs(made).max(), np.float32)
    sound.setflags(write=False)  # everyone who asks for it gets the same
    return sound

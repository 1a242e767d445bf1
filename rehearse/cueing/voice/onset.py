"""Where a word is heard to begin, and the word trimmed to it.

A spoken word is not heard at its first sound but at its perceptual centre (Morton, Marcus &
Frankish 1976, Psychological Review 83, 405–408): counts spaced by their first sounds limp,
because the s of "six" comes some 75 ms before the vowel that carries its beat. The centre lies
close to the onset of the stressed vowel; it is taken here as the moment of fastest rise of the
envelope (the centre of its steepest part) in the band of the vowels' formants: the procedure of
Cummins & Port 1998 (Journal of Phonetics 26, 145–171, after Scott's model), with the fastest
rise instead of the middle of the rise, as in Rathcke et al. 2024 (J. Acoust. Soc. Am. 155(4),
2698–2706). A rendered text brings along where its stressed vowel begins: the measure is held to
that, since in "sieben" or "siete" the fastest rise lies in another sound. "One" and "three",
which glide into their vowel, stay uncertain by some 60 ms. The correction is `Utterance.onset`:
the clip is laid so that this moment, not its first sample, is on the beat.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

_SILENCE = 10 ** (-38 / 20)  # of the loudest 5 ms
_BAND = (200.0, 2500.0)  # Hz: first and second formants; little of f and s
_SMOOTH = 0.026  # s, shorter than a syllable, longer than a voice's pitch period
_VOWEL = 0.4  # of the loudest: the first moment as loud is inside the first stressed vowel
_REACH = 0.100  # s before that moment in which its rise is looked for
#: A low voice rises in steps, one a pulse of the cords, 10 ms apart. The centre of the rise (each
#: moment weighed by its steepness squared) within this reach in s lies between them: over 300
#: renderings it differed from an independent detector by 4.2 ms at most, the steepest by 11.7.
_RISE = 0.016
_BREATH = 0.10  # s between parts that are said as one
_EDGE = 0.004  # s of fade at both ends, so that a trimmed clip never clicks
#: Loudness all clips are brought to: RMS of their louder half, of full scale.
_LEVEL = 0.14
_PEAK = 0.89


@dataclass(frozen=True, eq=False)
class Utterance:
    """A spoken text, trimmed and levelled.

    Args:
        text: what is said.
        samples: float32, shape (n,), full scale ±1.
        sample_rate: of the samples.
        onset: seconds from the first sample to the stressed onset.
    """

    text: str
    samples: npt.NDArray[np.float32]
    sample_rate: int
    onset: float

    @property
    def length(self) -> float:
        """Seconds."""
        return len(self.samples) / self.sample_rate


def at_rate(spoken: Utterance, sample_rate: int) -> npt.NDArray[np.float32]:
    """The samples of `spoken` at another rate, shape (n,)."""
    if spoken.sample_rate == sample_rate:
        return spoken.samples
    import soxr

    moved = soxr.resample(spoken.samples, spoken.sample_rate, sample_rate)
    return np.ascontiguousarray(moved, np.float32)


def joined(text: str, parts: Sequence[Utterance]) -> Utterance:
    """What was said in parts ("crucifix", "back") as one, with a breath between them."""
    rate = max(part.sample_rate for part in parts)
    breath = np.zeros(int(_BREATH * rate), np.float32)
    pieces = [piece for part in parts for piece in (breath, at_rate(part, rate))][1:]
    return Utterance(text, np.concatenate(pieces), rate, parts[0].onset)


def utterance(
    text: str,
    samples: npt.NDArray[np.float32],
    sample_rate: int,
    stress: tuple[float, float] | None = None,
) -> Utterance:
    """Trim, level and measure a rendered or recorded text.

    Args:
        samples: shape (n,).
        stress: seconds of `samples` between which the stressed syllable is known to begin.

    Raises:
        ValueError: the samples are silent.
    """
    first, voiced = _trim(np.asarray(samples, np.float32), sample_rate)
    loud = np.sort(np.abs(voiced))[len(voiced) // 2 :]
    gain = min(_LEVEL / float(np.sqrt(np.mean(loud**2))), _PEAK / float(loud[-1]))
    shaped = voiced * np.float32(gain)
    edge = min(int(_EDGE * sample_rate), len(shaped) // 2)
    ramp = np.linspace(0.0, 1.0, edge, dtype=np.float32)
    shaped[:edge] *= ramp
    shaped[len(shaped) - edge :] *= ramp[::-1]
    onset = stressed_onset(shaped, sample_rate)
    if stress is not None:
        earliest, latest = (min(max(0.0, s - first), len(shaped) / sample_rate) for s in stress)
        onset = min(max(onset, earliest), latest)
    return Utterance(text, shaped, sample_rate, onset)


def _smooth(values: npt.NDArray[np.float32], length: int) -> npt.NDArray[np.float64]:
    # In double precision: a running sum in single would drown the quiet onsets.
    window = np.hanning(length + 2)[1:-1]
    return np.convolve(values.astype(np.float64), window / window.sum(), "same")


def _trim(
    samples: npt.NDArray[np.float32], sample_rate: int
) -> tuple[float, npt.NDArray[np.float32]]:
    """Seconds of silence before what is heard, and what is heard."""
    power = _smooth(samples**2, max(3, int(0.005 * sample_rate)))
    if not len(power) or power.max() < 1e-9:
        raise ValueError("nothing is heard")
    heard = np.flatnonzero(power > power.max() * _SILENCE**2)
    return heard[0] / sample_rate, samples[heard[0] : heard[-1] + 1].copy()


def stressed_onset(samples: npt.NDArray[np.float32], sample_rate: int) -> float:
    """Seconds to the perceptual centre of the first stressed syllable; see the module's text."""
    reach = int(_REACH * sample_rate)
    pad = 2 * reach
    spectrum = np.fft.rfft(np.pad(samples.astype(np.float64), pad))
    hertz = np.fft.rfftfreq(len(samples) + 2 * pad, 1 / sample_rate)
    # Zero-phase band-pass of second order at both edges: it must not move the onset.
    low, high = _BAND
    with np.errstate(divide="ignore"):
        shape = 1 / (1 + (hertz / high) ** 4) / (1 + (low / hertz) ** 4)
    band = np.fft.irfft(spectrum * shape, len(samples) + 2 * pad).astype(np.float32)
    envelope = np.sqrt(_smooth(band**2, int(_SMOOTH * sample_rate) | 1))
    envelope = envelope[pad - reach : len(samples) + pad]
    voiced = int(np.flatnonzero(envelope >= _VOWEL * envelope.max())[0])
    first = max(0, voiced - reach)
    rise = np.maximum(np.gradient(envelope)[first : voiced + 1], 0.0)
    steepest, reach_rise = int(np.argmax(rise)), int(_RISE * sample_rate)
    begin = max(0, steepest - reach_rise)
    weights = rise[begin : steepest + reach_rise + 1] ** 2
    if not weights.sum() > 0.0:  # it only falls, from its first sample on
        return max(0, voiced - reach) / sample_rate
    centre = float(np.average(np.arange(len(weights)), weights=weights))
    return max(0.0, first + begin + centre - reach) / sample_rate

"""Where in the music a film lies, and how fast the phone's clock runs: by its sound.

Windows of the film's sound are compared with the whole music by generalised cross-correlation
(Knapp and Carter 1976; the spectrum divided by its magnitude to the power 0.7, which keeps echoes
and a loud room from deciding). All windows vote for one offset; those whose own best place agrees
with it then give the offset to a fraction of a sample and the rate of the clock by a line through
them. Music that repeats itself, another song and silence show in the ratio between the winning
offset and the best other one.

Conventions: music second = `offset` + film second × `rate`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt
from scipy import fft

from rehearse.film.sound import RATE, Sound
from rehearse.words import _
from rehearse.work.progress import Report

#: Seconds of a window and from one to the next; windows that are compared at most.
_LONG, _STEP, _MOST = 6.0, 2.0, 90
#: Least step, and the windows that a short film is cut into.
_SHORT, _FEW = 0.5, 8
#: Hz; below lies the room's rumble, above little that a phone keeps.
_BAND = 200.0, 3500.0
_WHITENING = 0.7
#: Samples of a bin in which correlations are pooled before the windows vote (2 ms).
_BIN = 16
#: Windows that must agree, the ratio the winner must have, and ms within which they agree.
WINDOWS, RATIO, _AGREE = 4, 1.6, 3.0
#: Where this many windows, over this many seconds, each have their own best place there, a lower
#: ratio will do: a song whose passages are alike has no more of it. (A false place was seen at
#: 1.43, of one window; exact repetition has 1.0 and windows that disagree.)
_MANY, _OVER, _ALIKE = 8, 12.0, 1.4
#: Seconds round the winner within which no other offset is looked for.
_APART = 0.1
#: Seconds round an offset in which a window may have its own best place: 90 s at 200 ppm.
_NEAR = 0.02
#: Windows' correlations under this many standard deviations say nothing.
_LEAST = 5.0
#: Rates of a phone's clock beyond which a line through the windows is not believed.
_FASTEST = 3e-4
#: Film seconds that a window may have to itself on either side of a run.
_RUNS = 8

Array = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Alignment:
    """A run found in a film.

    Args:
        offset: music second at film second 0. rate: music seconds per film second, about 1.
        windows: how many agree. ratio: of the winning offset to the best other one.
        start, end: film seconds between which the music was recognised.
        by: what told it: the music, the clap before it, a hand, or the clock that played it.
    """

    offset: float
    rate: float
    windows: int
    ratio: float
    start: float
    end: float
    by: Literal["music", "clap", "hand", "clock"] = "music"

    def to_film(self, music_second: float) -> float:
        """The film second at which this second of the music was heard."""
        return (music_second - self.offset) / self.rate

    def to_music(self, film_second: float) -> float:
        """The second of the music heard at this second of the film."""
        return self.offset + film_second * self.rate


@dataclass(frozen=True)
class _Votes:
    """What each window says: `bins` (windows, offsets), normalised; starts in samples."""

    starts: list[int]
    correlations: list[npt.NDArray[np.float32]]
    bins: npt.NDArray[np.float32]
    shift: int


def find_runs(film: Sound, begins: float, music: Sound, report: Report) -> list[Alignment]:
    """Every run of the music in a film, in the film's order.

    Args:
        film: shape (n,) at 8 kHz. begins: film second of its first sample.
        music: shape (m,) at 8 kHz, at the tempo it was played.

    Returns:
        Runs that pass `WINDOWS` and `RATIO`; empty where the music is not found for certain.
    """
    votes = _listen(film, music, report)
    left = np.ones(len(votes.starts), bool)
    runs: list[Alignment] = []
    while len(runs) < _RUNS and left.sum() >= WINDOWS:
        found = _run(votes, left, begins)
        if found is None:
            break
        run, members = found
        left &= ~members
        if run is not None:
            runs.append(run)
    return sorted(runs, key=lambda run: run.start)


def _listen(film: Sound, music: Sound, report: Report) -> _Votes:
    long = round(_LONG * RATE)
    least = min(_STEP, max(_SHORT, (len(film) - long) / RATE / _FEW))
    step = max(round(least * RATE), (len(film) - long) // _MOST + 1)
    starts = list(range(0, max(1, len(film) - long + 1), step))
    size = fft.next_fast_len(len(music) + long, real=True)
    band = fft.rfftfreq(size, 1 / RATE)
    kept = (band >= _BAND[0]) & (band <= _BAND[1])
    whole = np.conj(fft.rfft(music, size).astype(np.complex64)) * kept
    # Offsets in samples run from -len(film) (music begins at the film's end) to len(music).
    shift = -(-(len(film) + long) // _BIN) * _BIN
    count = (shift + len(music)) // _BIN + 1
    bins = np.zeros((len(starts), count), np.float32)
    kept_rows: list[npt.NDArray[np.float32]] = []
    window = np.hanning(long).astype(np.float32)
    for k, start in enumerate(starts):
        report(k / len(starts), _("Looking for the music"))
        piece = film[start : start + long]
        row = _correlate(piece * window[: len(piece)], whole, size, len(music), long)
        kept_rows.append(row)
        first = shift - start - long  # of row[0], in bins' samples
        pooled = np.zeros(-(-(len(row) + first % _BIN) // _BIN) * _BIN, np.float32)
        pooled[first % _BIN : first % _BIN + len(row)] = row
        values = pooled.reshape(-1, _BIN).max(axis=1)
        bins[k, first // _BIN : first // _BIN + len(values)] = values[: count - first // _BIN]
    return _Votes(starts, kept_rows, bins, shift)


def _correlate(
    piece: Sound, whole: npt.NDArray[np.complex64], size: int, music: int, long: int
) -> npt.NDArray[np.float32]:
    """Correlation of a piece with the music in standard deviations.

    Value `k` is for the piece beginning at sample `k - long` of the music.
    """
    cross = fft.rfft(piece, size) * whole
    magnitude = np.abs(cross)
    if not magnitude.max() > 0:
        return np.zeros(music + long, np.float32)
    cross /= (magnitude + 1e-6 * magnitude.max()) ** _WHITENING
    found = fft.irfft(cross, size)
    # irfft of X conj(Y): value at lag l is for piece[n] = music[n - l].
    row = found[(long - np.arange(music + long)) % size]
    even: npt.NDArray[np.float32] = (row / (row.std() + 1e-20)).astype(np.float32)
    return even


def _run(
    votes: _Votes, left: npt.NDArray[np.bool_], begins: float
) -> tuple[Alignment | None, npt.NDArray[np.bool_]] | None:
    """The strongest run among the windows that are left, and the windows it takes up."""
    total = votes.bins[left].sum(axis=0)
    anchor = int(total.argmax())
    near = round(_NEAR * RATE / _BIN)
    around = slice(max(0, anchor - near), anchor + near + 1)
    own, there = votes.bins.max(axis=1), votes.bins[:, around].max(axis=1)
    members = left & (there >= 0.999 * own) & (there > _LEAST)
    if not members.any():
        return None
    ratio = _ratio(votes.bins[members].sum(axis=0), anchor)
    lags = _fine(votes, members, anchor)
    line = _line(np.array(votes.starts, float)[members], lags)
    if line is None or ratio < _ALIKE:
        return None, members
    offset, slope, agree = line
    if len(agree) < WINDOWS or not (ratio >= RATIO or _unanimous(votes, left, members)):
        return None, members
    starts = np.array(votes.starts)[members][agree] / RATE + begins
    rate = 1 + slope
    run = Alignment(
        offset / RATE - begins * rate,
        rate,
        len(agree),
        ratio,
        float(starts[0]),
        float(starts[-1] + _LONG),
    )
    return run, members


def _unanimous(votes: _Votes, left: npt.NDArray[np.bool_], members: npt.NDArray[np.bool_]) -> bool:
    """Whether all windows from the first to the last member are members, and they are many."""
    numbers = np.flatnonzero(members)
    first, last = int(numbers[0]), int(numbers[-1])
    span = (votes.starts[last] - votes.starts[first]) / RATE
    between = slice(first, last + 1)
    heard = left[between] & (votes.bins[between].max(axis=1) > _LEAST)
    return len(numbers) >= _MANY and span >= _OVER and bool((members[between] == heard).all())


def _ratio(total: npt.NDArray[np.float32], anchor: int) -> float:
    apart = round(_APART * RATE / _BIN)
    low, high = max(0, anchor - apart), anchor + apart + 1
    best = float(total[low:high].max())
    other = max(float(part.max()) for part in (total[:low], total[high:]) if len(part))
    return best / max(other, 1e-9)


def _fine(votes: _Votes, members: npt.NDArray[np.bool_], anchor: int) -> Array:
    """Each member's own offset in samples, by a parabola through its peak."""
    near = round(_NEAR * RATE)
    middle = anchor * _BIN + _BIN // 2 - votes.shift
    lags = []
    for k in np.flatnonzero(members):
        row, start = votes.correlations[k], votes.starts[k]
        at = middle + start + round(_LONG * RATE)  # its index for this offset
        low = max(1, at - near)
        peak = low + int(row[low : min(len(row) - 1, at + near)].argmax())
        before, best, after = (float(value) for value in row[peak - 1 : peak + 2])
        bend = before - 2 * best + after
        part = 0.5 * (before - after) / bend if bend < 0 else 0.0
        lags.append(peak + part - round(_LONG * RATE) - start)
    return np.array(lags)


def _line(starts: Array, lags: Array) -> tuple[float, float, npt.NDArray[np.intp]] | None:
    """Offset in samples at film sample 0, slope, and which windows lie on the line.

    The slope is the median over pairs of windows (Theil 1950), which a quarter of wrong ones does
    not move; then a least-squares line through those that agree.
    """
    middles = starts + _LONG * RATE / 2
    first, second = np.triu_indices(len(middles), 1)
    slope = 0.0
    if len(first):
        slope = float(np.median((lags[second] - lags[first]) / (middles[second] - middles[first])))
    slope = min(_FASTEST, max(-_FASTEST, slope))
    rest = lags - slope * middles
    agree = np.flatnonzero(np.abs(rest - np.median(rest)) <= _AGREE / 1000 * RATE)
    if len(agree) < 2:
        return None
    if len(agree) >= WINDOWS:
        slope, offset = np.polyfit(middles[agree], lags[agree], 1)
        if abs(slope) > _FASTEST:
            return None
        return float(offset), float(slope), agree
    return float(np.median(rest[agree])), slope, agree

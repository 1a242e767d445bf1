"""Where and how two parts of a song are joined best, by the sound on both sides.

A join may lie up to two counts off its place: both parts move alike, so the counts go on. At each
of the five places the beats are laid on each other by their onsets, the level is evened out as far
as the music itself does not step, and the fade is put where it is heard least. The place is taken
where what would have followed is most like what follows and all this together shows least.

Conventions: seconds of the song; `left` is where the part before ends, `arrived` where the next one
begins.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from rehearse.music.analysis.likeness import STEP, SongFeatures, places_heard, unlike
from rehearse.music.analysis.spectrum import FPS, RATE, Floats
from rehearse.music.beatmap import SAME_PLACE, BeatMap
from rehearse.music.cut import FARTHEST, Cut, CutPart
from rehearse.music.cutsound import fade_span, splice_sound
from rehearse.music.track import Samples, Track
from rehearse.words import _

#: A count further off its place, and one unit of a fade's fault, weigh as much as so much
#: unlikeness; places so much more unlike than the best are not tried.
_OFF, _FAULT, _HOPELESS = 0.05, 0.1, 0.4
#: Seconds by which onsets are laid on each other at most, and step of their curve.
_REACH, _FINE = 0.025, 0.001
#: Correlation from which onsets and wave forms are taken to be the same.
_AGREE, _SAME = 0.35, 0.6
#: Seconds of fades: before an attack, and where there is none.
_SHORT, _LONG = (0.01, 0.02, 0.04), (0.08, 0.16, 0.3)
_AHEAD = (0.004, 0.01, 0.02, 0.035, 0.06)
#: What a fade of the other kind costs.
_OTHER_KIND = 0.3
#: Frequency in Hz above which a click is looked for; an attack within so many seconds of a fade
#: is heard with it.
_HIGH, _NEAR = 5000.0, 0.004
#: Fade in free time, seconds.
_FREE = 0.6
#: Decibels that are evened out at most, and that nobody minds.
_MOST, _UNHEARD = 4.0, 1.0
#: Steps of tempo that are told, as a share.
_TEMPO = 0.04
#: From where on a join is said to show a little, and to show.
LITTLE, CLEARLY = 0.75, 1.25


@dataclass(frozen=True)
class Joined:
    """A join as found.

    Args:
        end: where the part before ends now. part: the part behind it.
        shows: how much the join is likely to show, 0 (not at all) to 2 and more.
        told: what is to be said about it: free time, another tempo; mostly empty.
    """

    end: float
    part: CutPart
    shows: float
    told: str = ""

    @property
    def words(self) -> str:
        """How much it shows, in words."""
        if self.shows < LITTLE:
            return _("hardly shows")
        return _("shows a little") if self.shows < CLEARLY else _("shows")

    @property
    def sentence(self) -> str:
        """How much it shows, and what else is to be said."""
        return f"{self.words}; {self.told}" if self.told else self.words


class Joiner:
    """Finds joins in one song.

    Args:
        track: the song. beatmap: its map. heard: as `likeness.hear` has it.
    """

    def __init__(self, track: Track, beatmap: BeatMap, heard: SongFeatures) -> None:
        self.track, self.beatmap, self.heard = track, beatmap, heard

    def join(self, before: CutPart, after: CutPart, *, by_hand: bool = False) -> Joined:
        """The best join of two parts as they were chosen.

        The part before ends, and the one after begins, at most two counts off; a join that lay off
        its place is put back there first, unless it was put there `by_hand`.
        """
        left, arrived = self._places(before, after)
        i, j = self._beat(left), self._beat(arrived)
        if i is None or j is None:
            return self._free_join(before, after, left, arrived)
        costs = self._shifts(i, j, before, after, after.shift if by_hand else None)
        most = min(costs.values()) + _HOPELESS
        tries = [self._at(i, j, after.end, k) for k, cost in costs.items() if cost <= most]
        return min(tries, key=lambda tried: tried[0])[1]

    def _at(self, i: int, j: int, end: float, shift: int) -> tuple[float, Joined]:
        """The best join with `shift` counts off its place, and what it costs."""
        left, arrived = self.beatmap.beats[i + shift], self.beatmap.beats[j + shift]
        part = CutPart(arrived, end, shift, slip=self._slip(i + shift, j + shift))
        fault, part = self._faded(left, self._levelled(left, part))
        joined = self.judge(left, part)
        return joined.shows + _OFF * abs(shift) + _FAULT * fault, joined

    def judge(self, left: float, part: CutPart) -> Joined:
        """A join as it is: how much it shows, and what is to be said of it."""
        i, j = self._beat(left), self._beat(part.start)
        step = self.beatmap.intervals[i] if i is not None and j is not None else 0.5
        places = (places_heard(self.heard, (t,), (step,)) for t in (left, part.start))
        shows = float(unlike(*places)[0, 0])
        rest = abs(self.step_beyond(left, part.start) + part.level)
        shows += 0.15 * max(0.0, rest - _UNHEARD)
        if i is None or j is None:
            return Joined(left, part, shows + 0.2, _("the join lies in free time"))
        told = self._tempo_words(i, j)
        return Joined(left, part, shows + (0.4 if told else 0.0), told)

    def _places(self, before: CutPart, after: CutPart) -> tuple[float, float]:
        """Where the join lay before it was shifted."""
        i, j = self._beat(before.end), self._beat(after.start)
        beats = self.beatmap.beats
        if after.shift and i is not None and j is not None:
            i, j = i - after.shift, j - after.shift
            if 0 <= i < len(beats) and 0 <= j < len(beats):
                return beats[i], beats[j]
        return before.end, after.start

    def _beat(self, time: float) -> int | None:
        index = self.beatmap.nearest(time)
        there = index >= 0 and abs(self.beatmap.beats[index] - time) <= SAME_PLACE
        return index if there else None

    def _shifts(
        self, i: int, j: int, before: CutPart, after: CutPart, fixed: int | None
    ) -> dict[int, float]:
        """Counts that the join may lie off its place, and how unlike both sides are there."""
        if fixed is not None:
            return {fixed: 0.0}
        beats, steps = self.beatmap.beats, self.beatmap.intervals
        runs = self.beatmap.runs
        same = [
            k
            for k in range(-FARTHEST, FARTHEST + 1)
            if any(a <= i < b and a <= i + k < b for a, b in runs)
            and any(a <= j < b and a <= j + k < b for a, b in runs)
            and beats[i + k] > before.start + 2 * steps[i]
            and beats[j + k] < after.end - 2 * steps[j]
        ] or [0]
        there, step = ([beats[at + k] for k in same] for at in (i, j)), [steps[i]] * len(same)
        left, arrived = (places_heard(self.heard, times, step) for times in there)
        costs = np.diag(unlike(left, arrived)) + _OFF * np.abs(same)
        return dict(zip(same, costs.tolist(), strict=True))

    def _tempo_words(self, i: int, j: int) -> str:
        steps = self.beatmap.intervals
        before, after = (float(np.median(steps[max(0, at - 4) : at + 4])) for at in (i, j))
        if abs(before / after - 1.0) < _TEMPO:
            return ""
        return _(
            "the tempo changes from {before:.0f} to {after:.0f}",
            before=60 / before,
            after=60 / after,
        )

    # -- beats on beats -------------------------------------------------------------------
    def _slip(self, i: int, j: int) -> float:
        """Seconds by which the part behind comes later, so that its onsets lie on those before."""
        beats, reach = self.beatmap.beats, 2.2 * self.beatmap.intervals[i]
        a, b = (self._onsets(beats[at], reach) for at in (i, j))
        lags = round(_REACH / _FINE)
        found = [_correlation(a, b, lag) for lag in range(-lags, lags + 1)]
        prior = 0.1 * (np.arange(-lags, lags + 1) / lags) ** 2
        best = int(np.argmax(np.array(found) - prior))
        if found[best] < _AGREE:
            return 0.0
        coarse = (best - lags) * _FINE
        fine = self._fine_lag(beats[i], beats[j], coarse, 0.6 * self.beatmap.intervals[i])
        return round(-(coarse if fine is None else fine), 6)

    def _onsets(self, time: float, reach: float) -> Floats:
        """How steeply the sound rises around `time`, a value a millisecond."""
        mono = self.heard.curves.mono
        first = round((time - reach) * RATE)
        at = first + np.arange(round(2 * reach * RATE) + 1)
        wave = np.where((at >= 0) & (at < len(mono)), mono[np.clip(at, 0, len(mono) - 1)], 0.0)
        power = np.concatenate([[0.0], np.cumsum(np.diff(wave, prepend=wave[0]) ** 2.0)])
        steps = (np.arange(int(2 * reach / _FINE)) * _FINE * RATE).astype(int)
        width = round(0.004 * RATE)
        level = np.log(power[np.minimum(steps + width, len(power) - 1)] - power[steps] + 1e-7)
        rise = np.maximum(0.0, np.diff(level, prepend=level[0]))
        rise = np.convolve(rise, np.hanning(9), "same") * np.hanning(len(rise))
        return np.asarray(rise, np.float32)

    def _fine_lag(self, left: float, arrived: float, coarse: float, reach: float) -> float | None:
        """The lag within 3 ms of `coarse` at which the waves themselves agree, if they do."""
        mono, half = self.heard.curves.mono, round(reach * RATE)
        a, b = round(left * RATE), round((arrived + coarse) * RATE)
        most = round(0.003 * RATE)
        if min(a, b - most) < half or max(a, b + most) + half > len(mono):
            return None
        one = np.diff(mono[a - half : a + half])
        whole = np.diff(mono[b - most - half : b + most + half])
        others = np.lib.stride_tricks.sliding_window_view(whole, len(one))
        sizes = np.concatenate([[0.0], np.cumsum(whole.astype(np.float64) ** 2)])
        size = np.sqrt(sizes[len(one) :] - sizes[: -len(one)]) * np.linalg.norm(one)
        likes = (others @ one) / np.maximum(size, 1e-9)
        lags = np.arange(-most, most + 1)
        best = int(np.argmax(likes))
        if likes[best] < _SAME:
            return None
        within: float = (b - a + lags[best]) / RATE - (arrived - left)
        return float(within)

    # -- level and fade -------------------------------------------------------------------
    def step_beyond(self, left: float, arrived: float) -> float:
        """Decibels by which the loudness steps at a join beyond what the music does itself."""
        power = self.heard.power
        before, after = power(left - STEP, left), power(arrived, arrived + STEP)
        own = (0.0, power(left, left + STEP) - before, after - power(arrived - STEP, arrived))
        step = after - before
        return step - min(max(step, min(own)), max(own))

    def _levelled(self, left: float, part: CutPart) -> CutPart:
        beyond = self.step_beyond(left, part.start)
        if abs(beyond) <= _UNHEARD:
            return part
        return replace(part, level=round(min(max(-beyond, -_MOST), _MOST), 2))

    def _faded(self, left: float, part: CutPart) -> tuple[float, CutPart]:
        """The fade that is heard least, and how much it is (`_fault_of_fade`)."""
        usual, others = (_SHORT, _LONG) if self._is_attack(part.start) else (_LONG, _SHORT)
        tries = [
            (self._fault_of_fade(left, tried) + dear, k, tried)
            for fades, dear in ((usual, 0.0), (others, _OTHER_KIND))
            for k, tried in enumerate(
                replace(part, fade=fade, ahead=ahead) for fade in fades for ahead in _AHEAD
            )
        ]
        fault, _, best = min(tries, key=lambda each: each[:2])
        return fault, best

    def _is_attack(self, time: float) -> bool:
        flux = self.heard.curves.flux
        at = min(max(2, round(time * FPS)), len(flux) - 1)
        around = flux[max(0, at - 200) : at + 200]
        return float(flux[max(0, at - 3) : at + 5].max()) > max(1.0, 2.0 * float(np.median(around)))

    def _fault_of_fade(self, left: float, part: CutPart) -> float:
        """How much a fade is heard: its click over what is around, its dip, and its length."""
        rate = self.track.sample_rate
        cut = Cut("", "", "", (CutPart(max(0.0, left - 0.9), left), _short(part, 0.6)))
        begin = cut.begins[1]
        first = max(0.0, begin - 0.45)
        sound = splice_sound(self.track.samples, rate, cut, first=first, last=begin + 0.45)
        a, b = (frame - round(first * rate) for frame in fade_span(cut, 1, rate))
        click = click_beyond(sound, rate, a, b)
        before, after = self._levels_in(left, part)
        level = 10.0 * float(np.log10(np.mean(sound[a : max(a + 1, b)] ** 2.0) + 1e-12))
        dip = max(0.0, min(before, after) - level) + max(0.0, level - max(before, after))
        return (max(0.0, click + 9.0) / 3.0) ** 2 + dip / 3.0 + part.ahead

    def _levels_in(self, left: float, part: CutPart) -> tuple[float, float]:
        rate, samples = self.track.sample_rate, self.track.samples
        levels = []
        for time in (left, part.start):
            b = max(1, round((time - part.ahead) * rate))
            a = max(0, b - max(1, round(part.fade * rate)))
            levels.append(10.0 * float(np.log10(np.mean(samples[a:b] ** 2.0) + 1e-12)))
        return levels[0], levels[1]

    def _free_join(self, before: CutPart, after: CutPart, left: float, arrived: float) -> Joined:
        """A join in free time: where it was put, over a long fade."""
        room = min(left - before.start, after.end - arrived) / 3.0
        fade = round(min(_FREE, max(0.02, room)), 3)
        return self.judge(left, self._levelled(left, CutPart(arrived, after.end, fade=fade)))


def _short(part: CutPart, length: float) -> CutPart:
    return replace(part, end=min(part.end, part.start + length))


def click_beyond(sound: Samples, rate: int, first: int, last: int) -> float:
    """Decibels by which a click in frames [first, last) exceeds the 99th percentile around it.

    The click is the power above 5 kHz in windows of 3 ms; both stretches are taken to end
    within `sound`, shape (n, 2), with some tenths of a second around them.
    """
    from scipy.signal import sosfilt

    power = np.sum(sosfilt(_high_pass(rate), sound.astype(np.float64), axis=0) ** 2.0, axis=1)
    width = max(1, round(0.003 * rate))
    sums = np.concatenate([[0.0], np.cumsum(power)])
    level = sums[width:] - sums[:-width]
    at = np.arange(len(level)) + width // 2
    near = round(_NEAR * rate)
    inside = (at >= first - near) & (at <= last + near)
    away = (at < first - round(0.02 * rate)) | (at > last + round(0.02 * rate))
    if not inside.any() or not away.any():
        return 0.0
    around = float(np.percentile(level[away], 99))
    return float(10.0 * np.log10((float(level[inside].max()) + 1e-15) / (around + 1e-15)))


@lru_cache(maxsize=8)
def _high_pass(rate: int) -> npt.NDArray[np.float64]:
    """The filter of `click_beyond` as second-order sections; it is asked for a thousand times."""
    from scipy.signal import butter

    high: npt.NDArray[np.float64] = butter(
        4, min(_HIGH, 0.4 * rate), "highpass", fs=rate, output="sos"
    )
    return high


def _correlation(a: npt.NDArray[np.floating], b: npt.NDArray[np.floating], lag: int) -> float:
    """Correlation of `a` with `b` moved `lag` values earlier."""
    n = min(len(a), len(b)) - abs(lag)
    one = a[max(0, -lag) : max(0, -lag) + n].astype(np.float64)
    other = b[max(0, lag) : max(0, lag) + n].astype(np.float64)
    size = float(np.linalg.norm(one) * np.linalg.norm(other))
    return float(one @ other) / size if size > 0 else 0.0


def join_all(
    joiner: Joiner,
    parts: tuple[CutPart, ...],
    known: Sequence[Joined] = (),
    by_hand: int = 0,
) -> tuple[tuple[CutPart, ...], tuple[Joined, ...]]:
    """Every join of a recipe; the parts, and what was found in order.

    Args:
        known: joins found before; one whose both sides are as they were stays as it is.
        by_hand: index of the part whose join stays at the count it is at; 0: none does.
    """
    there = {(j.end, replace(j.part, end=0.0)): j for j in known}
    made, found = [parts[0]], []
    for index, part in enumerate(parts[1:], 1):
        joined = there.get((made[-1].end, replace(part, end=0.0)))
        if joined is None:
            joined = joiner.join(made[-1], part, by_hand=index == by_hand)
        joined = replace(joined, part=replace(joined.part, end=part.end))
        made[-1] = replace(made[-1], end=joined.end)
        made.append(joined.part)
        found.append(joined)
    return tuple(made), tuple(found)

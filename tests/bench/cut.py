"""Cuts of made and real songs, every join of every version offered, against bounds.

python -m tests.bench.cut [--songs FILE …] [--limit 60] [--eval FOLDER]

Six songs are made with every beat known; real ones are given by path, nothing of them is kept. Each
is mapped and listened to as the program does it. Of every version: its length within the limit;
at every join the beat going on, the click in the fade against the 99th percentile of its neighbours
(`score_seam` of the scorers in `--eval`, default ../shared/eval; left out where they are not
there), and the step of loudness (ITU-R BS.1770-4 by pyloudnorm, 2 s on either side) beyond what the
song itself steps at either place. Of 22 poses put at random: every one at its second of the song or
set aside, and all back as they were on the whole song.

The beat is measured on made songs by their true beats. Of real ones nobody knows them: onsets of
four beats before and after are folded at the length of a beat and laid on each other. That tells
less than 5 ms only where the music is steady and the same is played, so the same is measured at 24
beats of the song where nothing was joined, and where the song is left and gone to: a join must not
be worse than nine in ten of those, or than the song itself is there. Exit status 1 where a bound is
broken.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pyloudnorm

from rehearse.files.user_error import UserError
from rehearse.music.analysis.analyse import analyse
from rehearse.music.analysis.likeness import hear
from rehearse.music.beatmap import BeatMap
from rehearse.music.cut import Cut, map_of_cut, whole
from rehearse.music.cutsound import fade_span, splice_sound
from rehearse.music.decode import load_track
from rehearse.music.position import Length
from rehearse.music.proposals import SPARE, Proposal, from_heard
from rehearse.music.track import Track
from rehearse.routine.follow import Music, follow
from rehearse.routine.model import Placed, Routine
from tests.music.structured import FORM, make_track

#: Milliseconds, decibels, decibels.
BEAT, CLICK, LOUD = 5.0, -3.0, 2.0
#: Seconds by which a pose may move against its music.
POSE = 0.001
#: Correlation of folded onsets from which a lag can be told.
CLEAR = 0.6
#: Milliseconds of a lag that is looked for: a join off by half a beat is another matter.
REACH = 60
#: Milliseconds between two lags that are compared.
GRID = 1.0
MADE = ((96.0, 1), (104.0, 2), (112.0, 3), (120.0, 4), (128.0, 5), (140.0, 6))

Seam = Callable[[np.ndarray, int], dict[str, float]]


def quiet(fraction: float, text: str) -> None:
    """A report nobody reads."""


def songs(paths: list[Path]) -> Iterator[tuple[str, Track, BeatMap, BeatMap | None]]:
    """Name, track, map as found, true map of made ones."""
    for bpm, seed in MADE:
        form = (*FORM[: 2 + seed % 3], *FORM, *FORM[-2:])
        track, truth = make_track(bpm, form, seed=seed, first=0.3 + 0.1 * seed)
        yield f"made {bpm:.0f}", track, analyse(track), truth
    for path in paths:
        track = load_track(path)
        yield f"{path.parent.name}/{path.stem}", track, analyse(track), None


def seam_of(folder: Path) -> Seam | None:
    if not (folder / "score_stretch.py").is_file():
        print(f"No scorers in {folder}: clicks are not measured.")
        return None
    sys.path.insert(0, str(folder))
    import score_stretch

    return score_stretch.score_seam


def click(sound: np.ndarray, rate: int, first: int, last: int, seam: Seam | None) -> float:
    """The worst of the fade's start, middle and end, decibels over the neighbours' p99."""
    if seam is None:
        return float("-inf")
    found = []
    for at in (first, (first + last) // 2, last):
        around = min(at, len(sound) - at, round(0.6 * rate))
        loop = np.concatenate([sound[at : at + around], sound[at - around : at]])
        found.append(seam(loop, rate)["click_vs_p99_db"])
    return max(found)


def loudness(samples: np.ndarray, rate: int, start: float, end: float) -> float:
    part = samples[max(0, round(start * rate)) : max(1, round(end * rate))]
    if len(part) < 0.5 * rate:
        return float("nan")
    # Power over all of it: no gate, so that a soft start counts.
    weighted = pyloudnorm.Meter(rate, block_size=0.4)
    for stage in weighted._filters.values():
        part = np.stack([stage.apply_filter(c) for c in part.T], axis=1)
    return float(10 * np.log10(np.sum(np.mean(part.astype(np.float64) ** 2, axis=0)) + 1e-12))


def step_beyond(track: Track, sound: np.ndarray, cut: Cut, k: int) -> float:
    """Decibels of the step at join `k` beyond those of the song at its two places."""
    rate, join = track.sample_rate, cut.begins[k]
    left, arrived = cut.parts[k - 1].end, cut.parts[k].start
    made = loudness(sound, rate, join, join + 2) - loudness(sound, rate, join - 2, join)
    own = [0.0]
    for at in (left, arrived):
        step = loudness(track.samples, rate, at, at + 2)
        step -= loudness(track.samples, rate, at - 2, at)
        own += [] if np.isnan(step) else [step]
    return abs(made - min(max(made, min(own)), max(own)))


def true_gap(truth: BeatMap, cut: Cut, k: int) -> float:
    """Milliseconds by which the true beats miss each other over join `k`, by their phase."""
    step = float(np.median(np.diff(truth.times)))
    before = truth.times[truth.nearest(cut.parts[k - 1].end)] - cut.parts[k - 1].start
    after = truth.times[truth.nearest(cut.parts[k].start)] - cut.parts[k].start
    gap = (cut.begins[k] + after) - (cut.begins[k - 1] + before)
    return 1000 * abs(gap - step * round(gap / step))


def heard_gap(sound: np.ndarray, rate: int, made: BeatMap, join: float) -> float | None:
    """The same by ear: onsets of four beats before and after, folded; None: too unclear to tell."""
    index = made.nearest(join)
    if index < 5 or index + 5 >= len(made.beats):
        return None
    step = float(np.median(np.diff(made.times[index - 4 : index + 5])))
    folded = [_folded(sound, rate, join + k * step, step, 4) for k in (-4, 0)]
    n = len(folded[0])
    likes = np.fft.irfft(np.fft.rfft(folded[1]) * np.conj(np.fft.rfft(folded[0])), n)
    likes /= np.linalg.norm(folded[0]) * np.linalg.norm(folded[1]) + 1e-12
    lags = np.arange(-REACH, REACH + 1)
    best = int(np.argmax(likes[lags]))
    if likes[lags[best]] < CLEAR:
        return None
    return float(1000 * abs(lags[best]) * step / n)


def songs_gaps(track: Track, beatmap: BeatMap, cut: Cut, k: int) -> list[float]:
    """The same, and a step of the grid more, where the song is left and where it is gone to."""
    places = (cut.parts[k - 1].end, cut.parts[k].start)
    gaps = (heard_gap(track.samples, track.sample_rate, beatmap, time) for time in places)
    return [0.0, *(gap + GRID for gap in gaps if gap is not None)]


def own_gap(track: Track, beatmap: BeatMap) -> float:
    """Milliseconds that nine in ten beats of the song stay under by the same measure."""
    places = np.linspace(10, len(beatmap.beats) - 10, 24).astype(int)
    times = [beatmap.beats[k] for k in places] if len(beatmap.beats) > 40 else []
    gaps = (heard_gap(track.samples, track.sample_rate, beatmap, time) for time in times)
    told = [gap for gap in gaps if gap is not None]
    return float(np.percentile(told, 90)) if told else 0.0


def _folded(sound: np.ndarray, rate: int, start: float, step: float, beats: int) -> np.ndarray:
    """Rise of level, a value a millisecond, averaged over `beats` beats."""
    n = round(step * 1000)
    total = np.zeros(n)
    first = max(0, round((start - 0.1) * rate))
    mono = sound[first : round((start + beats * step + 0.1) * rate)].mean(axis=1)
    power = np.concatenate([[0.0], np.cumsum(np.diff(mono.astype(np.float64), prepend=0.0) ** 2)])
    for k in range(beats):
        at = np.round((start + k * step - 0.02 + np.arange(n + 1) * step / n) * rate) - first
        at = np.clip(at.astype(int), 0, len(power) - 1)
        wide = np.minimum(at + round(0.004 * rate), len(power) - 1)
        level = np.log(power[wide] - power[at] + 1e-7)
        total += np.maximum(0.0, np.diff(level))
    smooth = np.hanning(9)
    return np.convolve(np.concatenate([total, total, total]), smooth, "same")[n : 2 * n]


def poses_kept(beatmap: BeatMap, cut: Cut, rng: np.random.Generator) -> str:
    """Why the poses did not keep their music; empty when they did."""
    counts = beatmap.counts or ()
    if len(counts) < 60:
        return ""
    chosen = sorted(rng.choice(np.arange(8, len(counts) - 8), 22, replace=False).tolist())
    poses = tuple(
        Placed(f"{k:08x}", "crucifix", counts[c], Length(4), Length(2))
        for k, c in enumerate(chosen)
    )
    routine = Routine("Bench", "song", poses=poses)
    all_of_it = Music(whole("song", beatmap.track_hash, beatmap.duration), beatmap)
    short = Music(cut, map_of_cut(beatmap, cut))
    moved = follow(routine, all_of_it, short)
    if len(moved.poses) + len(moved.aside.poses) != 22:
        return "a pose is lost"
    before = {p.id: beatmap.time_of(p.hit) for p in poses}
    for placed in moved.poses:
        _, now = cut.song_time(short.beatmap.time_of(placed.hit))
        if abs(now - before[placed.id]) > POSE:
            return f"a pose moved by {1000 * (now - before[placed.id]):.1f} ms"
    return "" if follow(moved, short, all_of_it) == routine else "they did not come back"


def measure(
    track: Track,
    beatmap: BeatMap,
    truth: BeatMap | None,
    most: float,
    proposal: Proposal,
    limit: float,
    seam: Seam | None,
) -> list[str]:
    """What is wrong with a version; its figures are printed."""
    cut, rate = proposal.cut, track.sample_rate
    sound = splice_sound(track.samples, rate, cut)
    made = map_of_cut(beatmap, cut)
    errors = []
    if not limit - SPARE <= len(sound) / rate <= limit:
        errors.append(f"length {len(sound) / rate:.2f} s")
    figures = []
    for k in range(1, len(cut.parts)):
        first, last = fade_span(cut, k, rate)
        clicked = click(sound, rate, first, last, seam)
        step = step_beyond(track, sound, cut, k)
        gap = true_gap(truth, cut, k) if truth else heard_gap(sound, rate, made, cut.begins[k])
        allowed = most if truth else max(most, *songs_gaps(track, beatmap, cut, k))
        figures.append(
            f"beat {'–' if gap is None else f'{gap:.1f} of {allowed:.1f} ms'}, "
            f"click {clicked:+.1f} dB, step {step:.1f} dB"
        )
        errors += [f"beat {gap:.1f} ms"] if gap is not None and gap > allowed else []
        errors += [f"click {clicked:+.1f} dB"] if clicked > CLICK else []
        errors += [f"step {step:.1f} dB"] if step > LOUD else []
    wrong = poses_kept(beatmap, cut, np.random.default_rng(5))
    errors += [wrong] if wrong else []
    print(f"    {proposal.length:6.2f} s  shows {proposal.shows:.2f}  {'; '.join(figures)}")
    print(f"             {proposal.reason}")
    return errors


def main() -> int:
    """Measure them all."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--songs", nargs="*", type=Path, default=[])
    parser.add_argument("--limit", type=float, default=60.0)
    parser.add_argument("--eval", type=Path, default=Path(__file__).parents[3] / "shared" / "eval")
    options = parser.parse_args()
    seam = seam_of(options.eval)
    broken, joins = [], 0
    for name, track, beatmap, truth in songs(options.songs):
        begun = time.perf_counter()
        counted = f"{len(beatmap.beats)} beats, {len(beatmap.builds)} builds"
        print(f"{name}: {track.duration:.0f} s, {counted}")
        try:
            found = from_heard(track, beatmap, hear(track, quiet), name, options.limit, quiet)
        except UserError as error:
            broken.append(f"{name}: {error.sentence}")
            continue
        print(f"    {len(found)} versions in {time.perf_counter() - begun:.1f} s")
        broken += [f"{name}: {len(found)} versions"] if len(found) < 3 else []
        most = BEAT if truth else max(BEAT, own_gap(track, beatmap) + GRID)
        for proposal in found:
            joins += len(proposal.joins)
            errors = measure(track, beatmap, truth, most, proposal, options.limit, seam)
            broken += [f"{name}, {proposal.length:.1f} s: {error}" for error in errors]
    print(f"{joins} joins; bounds: beat {BEAT} ms, click {CLICK} dB, step {LOUD} dB")
    for line in broken:
        print(f"BROKEN  {line}")
    return 1 if broken else 0


if __name__ == "__main__":
    sys.exit(main())

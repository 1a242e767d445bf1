"""Fit the weights by which the 1 of the bar is found, and measure them on songs held back.

    python -m training.bar_fit --scores scores.npz --fonts a.sf3 b.sf2 \
        --held-fonts c.sf3 --out bars.tsv

Weights come from songs that count on evenly throughout. There are only seven ways to lay bars
over one (four in bars of four, three in bars of three), each with a score linear in the weights,
and the weights are those of a multinomial logistic regression over these ways. Of bars of two any
whole number of them apart is right. Every song is shown twice, once without the network's own
opinion: it knows such music better than any that it will meet, and the others must learn to do
without it. The cost of a jump (`bars.Costs`) is then tried out on all songs. Witnesses were
chosen by cross-validation over groups of styles among the songs shown.

Songs held back (every fourth score, another seed, other sound fonts) are decoded from their sound
as a user's are.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np
import numpy.typing as npt

from rehearse.music.analysis.bar_evidence import WITNESSES, evidence
from rehearse.music.analysis.bars import STATES, Costs, best_bars, moves
from rehearse.music.analysis.beatpath import follow
from rehearse.music.analysis.features import energies_of_mono
from rehearse.music.analysis.network import activation_of
from training.bar_songs import bar_song
from training.piece import Rng
from training.pool import made
from training.render import Fonts
from training.scores import Score

Floats = npt.NDArray[np.float64]
Places = npt.NDArray[np.int64]

#: Ways to lay bars over a song: beats in the bar, and how far into one the first beat lies.
_WAYS = tuple((4, k) for k in range(4)) + tuple((3, k) for k in range(3))
_FEWEST, _STRENGTH, _HELD_SEED = 24, 0.1, 778
_JUMPS = (5.0, 7.0, 9.0, 12.0)


@dataclass(frozen=True, eq=False)
class Song:
    """Beats of a song in seconds, their places, and what is witnessed at each."""

    times: Floats
    places: Places
    seen: Floats

    @property
    def even(self) -> bool:
        """Whether every place follows the one before."""
        return bool(np.all(self.places[1:] == self.places[:-1] % self.places.max() + 1))


def songs(seed: int, count: int, scores: Path, fonts: Sequence[Path]) -> Iterator[Song]:
    """Made songs with the evidence at their true beats."""
    jobs = ((seed, number) for number in range(count))
    return (song for song in made(_song, jobs, scores, fonts) if song is not None)


def _song(rng: Rng, scores: Sequence[Score], fonts: Fonts) -> Song | None:
    take = bar_song(rng, [s for k, s in enumerate(scores) if k % 4], fonts)
    if len(take.beats) < _FEWEST:
        return None
    energies = energies_of_mono(take.sound)
    seen = evidence(energies, activation_of(energies), take.beats)
    return Song(take.beats, take.places, seen.astype(np.float64))


def ways(song: Song) -> tuple[Floats, npt.NDArray[np.bool_]]:
    """Evidence summed by state for each way, shape (7, witnesses, 7), and which ways are right."""
    places, seen = song.places, song.seen
    sums = np.zeros((len(_WAYS), seen.shape[1], len(STATES)))
    right = np.zeros(len(_WAYS), np.bool_)
    meter = int(song.places.max())
    for k, (bar, into) in enumerate(_WAYS):
        place = (np.arange(len(seen)) + into) % bar + 1
        for state, wanted in enumerate(STATES):
            if wanted[0] == bar:
                sums[k, :, state] = seen[place == wanted[1]].sum(axis=0)
        if bar == (4 if meter == 2 else meter):
            right[k] = bool((place[0] - places[0]) % meter == 0)
    return sums, right


def fit(shown: Sequence[Song]) -> Floats:
    """Weights of shape (witnesses, 7): most likely, with a penalty on their squares."""
    from scipy.optimize import minimize

    pairs = [ways(song) for song in shown]
    sums = np.array([s for s, right in pairs if right.any()])
    right = np.array([right for _, right in pairs if right.any()])
    deaf = sums.copy()
    deaf[:, :, WITNESSES.index("network")] = 0.0
    sums = np.concatenate([sums, deaf]).reshape(2 * len(right), len(_WAYS), -1)
    right = np.concatenate([right, right])

    def loss(weights: Floats) -> tuple[float, Floats]:
        score = sums @ weights
        total = np.logaddexp.reduce(score, axis=1)
        good = np.logaddexp.reduce(np.where(right, score, -1e9), axis=1)
        excess = np.exp(score - total[:, None])
        excess -= np.where(right, np.exp(score - good[:, None]), 0.0)
        slope = np.einsum("nw,nwf->f", excess, sums) / len(sums) + 2 * _STRENGTH * weights
        return float(np.mean(total - good) + _STRENGTH * weights @ weights), slope

    found = minimize(loss, np.zeros(sums.shape[2]), jac=True, method="L-BFGS-B")
    weights: Floats = found.x.reshape(len(WITNESSES), len(STATES))
    return weights


def tried_jumps(shown: Sequence[Song], weights: Floats) -> float:
    """The cost of a jump under which most places are right, in songs in three and four."""
    shown = [song for song in shown if song.places.max() > 2]
    shares = []
    for jump in _JUMPS:
        costs = Costs(jump=jump)
        rows = (best_bars(s.seen @ weights, moves(s.times, costs)).places for s in shown)
        right = [np.mean(row == s.places) for row, s in zip(rows, shown, strict=True)]
        shares.append(float(np.mean(right)))
        print(f"a jump costs {jump}: {shares[-1]:.4f} of the places right", flush=True)
    return _JUMPS[int(np.argmax(shares))]


def measure(count: int, scores: Path, fonts: Sequence[Path], weights: Floats) -> None:
    """Downbeat F (±70 ms, first 5 s left out) of songs decoded from sound, before and after."""
    jobs = ((_HELD_SEED, number) for number in range(count))
    rows = made(partial(_measured, weights=weights), jobs, scores, fonts)
    table = np.array([row for row in rows if row is not None])
    for meter in (2, 3, 4):
        print(f"bars of {meter}: before, after", table[table[:, 0] == meter, 1:].mean(axis=0))
    print("all: before, after", table[:, 1:].mean(axis=0))


def _measured(
    rng: Rng, scores: Sequence[Score], fonts: Fonts, weights: Floats
) -> tuple[float, float, float] | None:
    """Beats in the bar of a song, and its downbeat F before and after."""
    import mir_eval

    take = bar_song(rng, scores[::4], fonts)
    energies = energies_of_mono(take.sound)
    activation = activation_of(energies)
    beats = follow(activation)
    if len(take.beats) < _FEWEST or len(beats.times) < _FEWEST:
        return None
    seen = evidence(energies, activation, beats.times)
    bars = best_bars(seen @ weights, moves(beats.times))
    trim = mir_eval.beat.trim_beats
    truth = trim(take.beats[take.places == 1])
    before, after = (
        float(mir_eval.beat.f_measure(truth, trim(beats.times[places == 1])))
        for places in (beats.places, bars.places)
    )
    return float(take.places.max()), before, after


def save(weights: Floats, out: Path) -> None:
    """Write the table of weights, three digits each."""
    head = "\t".join(["witness", *(f"{place} of {bar}" for bar, place in STATES)])
    rows = (
        "\t".join([name, *(f"{w:.3f}" for w in row)])
        for name, row in zip(WITNESSES, weights, strict=True)
    )
    out.write_text("\n".join([head, *rows, ""]), "utf-8")


def main() -> None:
    """Command line: see the module's text."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--scores", required=True, type=Path)
    parser.add_argument("--fonts", nargs="+", required=True, type=Path)
    parser.add_argument("--held-fonts", nargs="+", required=True, type=Path)
    parser.add_argument("--out", required=True, type=Path)
    parser.add_argument("--songs", type=int, default=900)
    parser.add_argument("--held", type=int, default=120)
    parser.add_argument("--seed", type=int, default=777)
    given = parser.parse_args()
    known = list(songs(given.seed, given.songs, given.scores, given.fonts))
    weights = fit([song for song in known if song.even])
    save(weights, given.out)
    print(f"{len(known)} songs; a jump had best cost", tried_jumps(known, weights), flush=True)
    measure(given.held, given.scores, given.held_fonts, weights)


if __name__ == "__main__":
    main()

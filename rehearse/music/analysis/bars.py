"""Which beat is the 1: bars laid over beats that are already known.

Every beat's evidence (`evidence.py`) is weighed for each place it could have in a bar of four or
of three, and the best row of places is found over the whole song at once: a linear-chain
conditional random field over beats (Lafferty, McCallum & Pereira, ICML 2001; for downbeats Durand
& Essid, "Downbeat detection with conditional random fields and deep learned features", ISMIR
2016; both from memory). Places normally count on from beat to beat. A beat dropped or put in, and
another meter, cost; less where the step from beat to beat is uneven, as at a change of tempo;
nothing after a gap, where counting starts anew. So the evidence of a whole stretch between two
real changes decides together, which no single bar could.

Weights were fitted on made music by `training/bar_fit.py`, and the cost of a jump
tried out there; the other two made no difference on it and are judged.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import numpy.typing as npt

from rehearse.files.locations import resource
from rehearse.music.analysis.bar_evidence import WITNESSES, Curve, Floats, evidence
from rehearse.music.analysis.network import Activation
from rehearse.words import _, ngettext

#: Beats in the bar and place of each state.
STATES = ((4, 1), (4, 2), (4, 3), (4, 4), (3, 1), (3, 2), (3, 3))
#: Fewest beats that are laid in bars anew.
FEWEST = 8

# A step this much longer or shorter (natural logarithm) than those around is uneven, one this many
# times the usual is a gap; beats around that are looked at.
_UNEVEN, _GAP, _AROUND = 0.12, 2.5, 8
# What makes a place impossible where the 1 is known.
_KNOWN = 60.0


@dataclass(frozen=True)
class Costs:
    """What departing from even counting costs, in natural logarithms, ≥ 0.

    Args:
        jump: another place than the next one.
        meter: another meter at a bar line; elsewhere two more.
        relief: taken off both where the step is uneven.
    """

    jump: float = 5.0
    meter: float = 9.0
    relief: float = 3.0


@dataclass(frozen=True, eq=False)
class Bars:
    """Place in the bar of each beat, 1 = first, and the probability of that place, shape (n,)."""

    places: npt.NDArray[np.int64]
    sure: Curve


def find_bars(
    energies: Floats, activation: Activation, times: Curve, one: int | None = None
) -> Bars | None:
    """Bars over the beats at `times`; None when there are too few to tell.

    Args:
        energies: band energies of the song, shape (t, bands).
        activation: what the network made of them.
        times: seconds of the beats, rising, shape (n,).
        one: a beat that is known to be the first of its bar.
    """
    if len(times) < FEWEST:
        return None
    scores = evidence(energies, activation, times).astype(np.float64) @ load_weights()
    if one is not None:
        scores[one, [place != 1 for _unused, place in STATES]] -= _KNOWN
    return best_bars(scores, moves(times))


def rotations(
    energies: Floats, activation: Activation, times: Curve
) -> list[tuple[str, Bars, float]]:
    """Every way to lay bars over beats: in words ("" the best), bars, and score per beat.

    The best bars with each other beat as the 1, bars of the other length, and bars of two.
    """
    if len(times) < FEWEST:
        return []
    scores = evidence(energies, activation, times).astype(np.float64) @ load_weights()
    between = moves(times)
    best = best_bars(scores, between)
    bar = int(best.places.max())
    found = [("", best, _mean_score(scores, best.places, bar))]
    for k in range(1, bar):
        places = (best.places - 1 - k) % bar + 1
        words = ngettext("the 1 {k} count later", "the 1 {k} counts later", k, k=k)
        found.append((words, replace(best, places=places), _mean_score(scores, places, bar)))
    other = 7 - bar
    barred = scores - _KNOWN * np.array([length != other for length, _unused in STATES])
    laid = best_bars(barred, between)
    found.append(
        (_("{other} in a bar", other=other), laid, _mean_score(scores, laid.places, other))
    )
    if bar == 4:
        # No more is known of bars of two than that their first beats are the strong ones of four.
        two = (best.places - 1) % 2 + 1
        half = _mean_score(scores, (best.places + 1) % 4 + 1, 4)
        found.append((_("2 in a bar"), replace(best, places=two), (found[0][2] + half) / 2))
    return found


def _mean_score(scores: Curve, places: npt.NDArray[np.int64], bar: int) -> float:
    """Mean score of a beat when `places` count bars of `bar`; other bars in them count alike."""
    state = {s: k for k, s in enumerate(STATES)}
    length = np.where(places > 3, 4, bar)
    columns = [state.get((int(n), int(p)), 0) for n, p in zip(length, places, strict=True)]
    return float(scores[np.arange(len(scores)), columns].mean())


@cache
def load_weights() -> Curve:
    """Weight of each witness for each of `STATES`, shape (witnesses, 7)."""
    lines = resource("beat_network/bars.tsv").read_text("utf-8").splitlines()
    rows = {name: cells for name, *cells in (line.split("\t") for line in lines[1:])}
    return np.array([rows[name] for name in WITNESSES], np.float64)


def moves(times: Curve, costs: Costs | None = None) -> Curve:
    """Score of going from each state to each at every beat but the first, shape (n − 1, 7, 7)."""
    costs = costs or Costs()
    bar, place = np.array(STATES).T
    counted = (bar[:, None] == bar) & (place[:, None] % bar[:, None] + 1 == place)
    new_bar = (place == bar)[:, None] & (place == 1)
    another = np.where(new_bar, costs.meter, costs.meter + 2.0)
    cost = np.where(counted, 0.0, np.where(bar[:, None] == bar, costs.jump, another))
    step = np.diff(times)
    usual = np.array(
        [np.median(step[max(0, k - _AROUND) : k + _AROUND + 1]) for k in range(len(step))]
    )
    uneven = np.abs(np.log(step / usual)) > _UNEVEN
    uneven[1:] |= np.abs(np.log(step[1:] / step[:-1])) > _UNEVEN
    eased = np.where(counted, 0.0, np.maximum(0.0, cost - costs.relief))
    result: Curve = -np.where(uneven[:, None, None], eased, cost)
    result[step > _GAP * usual] = 0.0
    return result


def best_bars(scores: Curve, between: Curve) -> Bars:
    """The best row of states under scores of shape (n, 7) and moves of shape (n − 1, 7, 7).

    The row is found by Viterbi's algorithm, the probabilities by the forward-backward algorithm
    (Rabiner, Proceedings of the IEEE 77(2), 1989; from memory).
    """
    count = len(scores)
    best, came = scores[0], np.zeros((count, len(STATES)), np.int64)
    for k in range(1, count):
        reached = best[:, None] + between[k - 1]
        came[k] = reached.argmax(axis=0)
        best = reached.max(axis=0) + scores[k]
    states = np.zeros(count, np.int64)
    states[-1] = best.argmax()
    for k in range(count - 1, 0, -1):
        states[k - 1] = came[k, states[k]]
    places = np.array([place for _unused, place in STATES])
    chance = _chances(scores, between)
    same = places[states][:, None] == places
    return Bars(places[states], np.minimum(1.0, (chance * same).sum(axis=1)))


def _chances(scores: Curve, between: Curve) -> Curve:
    """Probability of every state at every beat, shape (n, 7)."""
    ahead, back = scores.copy(), np.zeros_like(scores)
    for k in range(1, len(scores)):
        ahead[k] += np.logaddexp.reduce(ahead[k - 1][:, None] + between[k - 1], axis=0)
    for k in range(len(scores) - 2, -1, -1):
        back[k] = np.logaddexp.reduce(between[k] + (scores[k + 1] + back[k + 1])[None, :], axis=1)
    both = ahead + back
    result: Curve = np.exp(both - np.logaddexp.reduce(both, axis=1)[:, None])
    return result

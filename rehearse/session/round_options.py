"""What can be chosen of a comparison round, as arguments of a command."""

from __future__ import annotations

import argparse
import math
from pathlib import Path
from typing import Any

from rehearse.routine.rounds import (
    KINDS,
    LEAST_HOLD,
    MOST_CALLOUTS,
    MOST_CALLS,
    MOST_HOLD,
    MOST_REST,
    MOST_SEED,
    RoundWish,
)
from rehearse.words import _

#: Names of the arguments as the parser keeps them.
ARGUMENTS = (
    *("round", "hold", "call_outs", "call_rest", "first_longer", "grows", "neighbours", "calls"),
    *("side", "seed", "background", "background_song"),
)


def add_round_arguments(group: argparse._ArgumentGroup) -> None:
    """Add `--round` and what belongs to it."""
    group.add_argument(
        "--round", choices=tuple(KINDS), help=_("a comparison round instead of the routine")
    )
    group.add_argument(
        "--hold", type=_hold, metavar="SECONDS", help=_("of each call: 10, or 5-30 at random")
    )
    group.add_argument(
        "--call-outs", type=_whole(1, MOST_CALLOUTS), metavar="N", help=_("default 1")
    )
    group.add_argument(
        "--call-rest",
        type=_seconds(MOST_REST),
        metavar="SECONDS",
        help=_("between calls, default 5"),
    )
    group.add_argument(
        "--first-longer",
        action="store_true",
        default=None,
        help=_("hold the first call-out longer"),
    )
    group.add_argument(
        "--grows", type=_seconds(MOST_HOLD), metavar="SECONDS", help=_("longer with each call-out")
    )
    group.add_argument(
        "--neighbours", action="store_true", default=None, help=_("change places between call-outs")
    )
    group.add_argument(
        "--calls", type=_whole(1, MOST_CALLS), metavar="N", help=_("of a random call-out")
    )
    group.add_argument("--side", choices=("left", "right"), help=_("where it is yours to choose"))
    group.add_argument(
        "--seed", type=_whole(0, MOST_SEED), metavar="N", help=_("repeats the same random round")
    )
    group.add_argument(
        "--background", action="store_true", default=None, help=_("with the routine's song")
    )
    group.add_argument(
        "--background-song",
        type=Path,
        metavar="SONG",
        help=_("with another song; it needs no beat"),
    )


def wish_of(given: Any) -> RoundWish | None:
    """The round that parsed arguments ask for; None: none."""
    if not getattr(given, "round", None):
        return None
    hold = given.hold or (10.0, 10.0)
    first = RoundWish()
    return RoundWish(
        kind=given.round,
        hold=hold[0],
        longest=hold[1],
        rest=first.rest if given.call_rest is None else given.call_rest,
        callouts=given.call_outs or 1,
        first_longer=bool(given.first_longer),
        grows=given.grows or 0.0,
        neighbours=bool(given.neighbours),
        calls=given.calls or 0,
        side=given.side or first.side,
        seed=given.seed,
    )


def alone(given: Any) -> str:
    """An argument that means nothing without `--round` ("--hold"); empty: none is given."""
    if getattr(given, "round", None):
        return ""
    for name in ARGUMENTS:
        if getattr(given, name, None) is not None:
            return f"--{name.replace('_', '-')}"
    return ""


def _hold(text: str) -> tuple[float, float]:
    first, _unused, last = text.removesuffix("s").strip().replace("–", "-").partition("-")
    low, high = _number(first), _number(last or first)
    if not LEAST_HOLD <= low <= high <= MOST_HOLD:
        span = _(
            "from {least_hold:g} to {most_hold:g} seconds, such as 10 or 5-30",
            least_hold=LEAST_HOLD,
            most_hold=MOST_HOLD,
        )
        raise argparse.ArgumentTypeError(_("{text} is no hold {span}", text=text, span=span))
    return low, high


def _seconds(most: float) -> Any:
    def read(text: str) -> float:
        value = _number(text.removesuffix("s"))
        if not 0 <= value <= most:
            raise argparse.ArgumentTypeError(
                _("{text} is not between 0 and {most:g} seconds", text=text, most=most)
            )
        return value

    return read


def _whole(least: int, most: int) -> Any:
    def read(text: str) -> int:
        value = _number(text)
        if not least <= value <= most or value != int(value):
            raise argparse.ArgumentTypeError(
                _(
                    "{text} is no whole number from {least} to {most}",
                    text=text,
                    least=least,
                    most=most,
                )
            )
        return int(value)

    return read


def _number(text: str) -> float:
    """A number, or what lies outside every range."""
    try:
        return float(text)
    except ValueError:
        return math.nan

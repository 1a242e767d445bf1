"""The comparison rounds: quarter turns, mandatory poses, and calls out of order.

What is called, in which order and words, and how long it is held, made from a rule set, a division
and a few wishes. What rests on what:

- Order of the turns: front, left side, back, right side, front, each a quarter turn to the
  competitor's right (NGA By-Laws p. 41; a federation's chart of 2016). Two bodies turn left, two
  show front and back only: a rule set says so (`turns`).
- Mandatory poses come in the order of the rule set. Where it has no list, or no direction, the
  list or direction of most bodies stands in: common practice, and the round says so.
- "Hit and relax on the head judge's command" (NGA By-Laws p. 41). No rule text found states the
  seconds of a called pose: holds and rests are common practice, no source. So are the words
  beyond the names of turns and poses.

Conventions: seconds; left and right are the athlete's own.
"""

from __future__ import annotations

import random
import re
import secrets
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from rehearse.files.user_error import UserError
from rehearse.routine.pose import Pose
from rehearse.routine.poses import Catalogue
from rehearse.routine.rules import RuleSet
from rehearse.words import _, shown

Kind = Literal["turns", "mandatories", "both", "random"]
KINDS: dict[Kind, str] = {
    "turns": _("Quarter turns"),
    "mandatories": _("Mandatory poses"),
    "both": _("Turns, then poses"),
    "random": _("Random calls"),
}

#: Seconds of hold and of rest that can be wished for, and most call-outs and calls of a round.
LEAST_HOLD, MOST_HOLD, MOST_REST = 2.0, 60.0, 120.0
MOST_CALLOUTS, MOST_CALLS = 20, 2000
#: The first call-out is held this many times as long (common practice, no source).
FIRST_LONGER = 1.5
#: Largest seed: six figures can be read, said and typed.
MOST_SEED = 999_999

RELAX = "and relax"
#: Words of a turn by what a rule set's `turns` says.
_TURN_WORDS = {
    "right": "quarter turn to the right",
    "left": "quarter turn to the left",
    "half": "half turn",
}
_TURN_ORDER = {
    "right": ("front", "left side", "back", "right side", "front"),
    "left": ("front", "right side", "back", "left side", "front"),
    "half": ("front", "back", "front"),
}
#: What is called out of order where a division has no mandatory poses (common practice, no source).
_SIDE_WORDS = {
    "front": "face the front",
    "left side": "left side to the judges",
    "back": "face the back",
    "right side": "right side to the judges",
}
#: Changes of place between call-outs as they are called and as they are shown (common practice,
#: no source).
PLACES = {
    "move to the centre": "to the centre",
    "change places with your left neighbour": "change left",
    "change places with your right neighbour": "change right",
    "move to the left end of the line": "to the left end",
    "move to the right end of the line": "to the right end",
}
#: Lists that stand in for a missing one (common practice): seven men's poses are printed by most
#: bodies, these five women's poses by several.
_USUAL = {
    "man": (
        *("front double biceps", "front lat spread", "side chest", "back double biceps"),
        *("back lat spread", "side triceps", "abdominals and thighs"),
    ),
    "woman": (
        *("front double biceps", "side chest", "back double biceps", "side triceps"),
        "abdominals and thighs",
    ),
}
#: Words of a division, and how the names of its stances begin; the first line that fits counts.
_STANCES = (
    (r"bikini", "bikini "),
    (r"wellness", "wellness "),
    (r"figure", "figure "),
    (r"men'?s physique|men’s physique|board ?shorts", "men's physique "),
)
#: Its divisions shown from front and back only, by the body (event pages).
_FRONT_AND_BACK = (("NPC", ("bikini ", "men's physique ")),)


@dataclass(frozen=True)
class RoundWish:
    """What the athlete wishes of a round.

    Args:
        kind: what is called.
        hold, longest: seconds of a hold, drawn at random between the two; equal: always that.
        rest: seconds from "relax" to the next call. between: seconds of rest between call-outs.
        callouts: how often the whole is called.
        first_longer: whether the first call-out is held `FIRST_LONGER` times as long.
        grows: seconds by which the hold grows from call-out to call-out: a ladder, only ever by
            the athlete's own choice.
        neighbours: whether places are changed between call-outs.
        calls: poses of a random call-out; 0: as many as there are mandatory poses.
        side: "left" or "right", the side shown where it is of choice.
        seed: repeats a random round; None: another one every time.
    """

    kind: Kind = "turns"
    hold: float = 10.0
    longest: float = 10.0
    rest: float = 5.0
    between: float = 20.0
    callouts: int = 1
    first_longer: bool = False
    grows: float = 0.0
    neighbours: bool = False
    calls: int = 0
    side: str = "left"
    seed: int | None = None

    def __post_init__(self) -> None:
        if self.kind not in KINDS or self.side not in ("left", "right"):
            raise ValueError(f"there is no round {self.kind!r} to the {self.side!r}")
        if not LEAST_HOLD <= self.hold <= self.longest <= MOST_HOLD:
            raise ValueError(f"a hold cannot be {self.hold:g} to {self.longest:g} s")
        if not (0 <= self.rest <= MOST_REST and 0 <= self.between <= MOST_REST):
            raise ValueError(f"a rest cannot be {self.rest:g} or {self.between:g} s")
        if not (1 <= self.callouts <= MOST_CALLOUTS and 0 <= self.calls <= MOST_CALLS):
            raise ValueError(f"there cannot be {self.callouts} call-outs of {self.calls} calls")
        if not 0 <= self.grows <= MOST_HOLD or not 0 <= (self.seed or 0) <= MOST_SEED:
            raise ValueError("a hold cannot grow so much, or the seed is too large")

    @property
    def most_held(self) -> float:
        """Seconds of the longest hold there can be in such a round."""
        last = min(MOST_HOLD, self.longest + self.grows * (self.callouts - 1))
        return max(last, self.longest * (FIRST_LONGER if self.first_longer else 1.0))


@dataclass(frozen=True)
class Call:
    """One thing the head judge says.

    Args:
        pose: what is shown; for a change of place the front stance.
        say: the words, as they are logged. callout: from 1.
        hold: seconds to be held; for a change of place seconds it takes.
        relax: whether "and relax" ends it; else the next call does.
        rest: seconds after that until the next call.
        held: whether a pose or a stance is held; not while places are changed.
    """

    pose: Pose
    say: str
    callout: int
    hold: float
    relax: bool = True
    rest: float = 0.0
    held: bool = True

    @property
    def shown(self) -> str:
        """What the stage display says: the pose by its name, anything else as it is called."""
        if self.say in self.pose.name:
            return shown(self.pose.name)
        return shown(PLACES.get(self.say) or self.say.replace(" to the ", " "))

    @property
    def words(self) -> str:
        """What is heard: `say` in the language of this process."""
        return shown(self.say)


@dataclass(frozen=True)
class Round:
    """A round as it will be called.

    Args:
        seed: makes the same round again of the same wishes.
        stand: the stance between calls.
        notes: where order, direction and words come from, a sentence each.
    """

    wish: RoundWish
    rules: RuleSet
    seed: int
    calls: tuple[Call, ...]
    notes: tuple[str, ...]
    stand: Pose

    @property
    def words(self) -> str:
        """What it is, in words."""
        return KINDS[self.wish.kind]

    @property
    def seconds(self) -> float:
        """Seconds of holds and rests; the words come on top."""
        return sum(call.hold + call.rest for call in self.calls)


def stances_of(rules: RuleSet, division: str) -> str:
    """How the names of a division's stances begin ("bikini "); "" for bodybuilding's."""
    # "women's physique" is no board-shorts class: there the mandatory poses are shown.
    text = re.sub(r"women[’']?s physique", "", f"{division} {rules.event}".casefold())
    return next((begin for words, begin in _STANCES if re.search(words, text)), "")


def mandatory_poses(
    rules: RuleSet, catalogue: Catalogue, *, figure: str, side: str = "left"
) -> tuple[tuple[Pose, str], ...]:
    """Each mandatory pose with the words it is called by, in the order of the rules.

    Args:
        figure: "man" or "woman". side: shown where the side is of choice.
    """
    own = _for(figure, rules, rules.mandatory_for(figure))
    names = (own or _USUAL[figure]) + _for(figure, rules, rules.called)
    return tuple((_pose(name, rules, catalogue, side), name) for name in names)


def _for(figure: str, rules: RuleSet, names: tuple[str, ...]) -> tuple[str, ...]:
    """Those of a list that are asked of a man or a woman."""
    return names if figure == "man" else tuple(n for n in names if not n.startswith(rules.men_only))


def make_round(
    rules: RuleSet,
    wish: RoundWish,
    catalogue: Catalogue,
    *,
    division: str = "",
    figure: str = "man",
) -> Round:
    """The round that `wish` describes.

    Args:
        division: as the show calls it: it tells the stances. figure: "man" or "woman".

    Raises:
        UserError: the division has no mandatory poses.
    """
    seed = secrets.randbelow(MOST_SEED + 1) if wish.seed is None else wish.seed
    stances = stances_of(rules, division)
    if stances and wish.kind in ("mandatories", "both"):
        raise UserError(
            _("{strip} has no mandatory poses", strip=stances.strip()),
            do=_("choose the quarter turns or random calls"),
        )
    made = _RoundBuilder(rules, wish, catalogue, stances, figure, seed)
    calls = tuple(made.calls())
    return Round(wish, rules, seed, calls, tuple(made.notes()), made.stance("front"))


class _RoundBuilder:
    """Puts one round together; poses, holds and places are drawn apart from each other."""

    def __init__(
        self,
        rules: RuleSet,
        wish: RoundWish,
        catalogue: Catalogue,
        stances: str,
        figure: str,
        seed: int,
    ) -> None:
        self.rules, self.wish, self.catalogue = rules, wish, catalogue
        self.stances, self.figure = stances, figure
        self.poses, self.holds, self.places = (
            random.Random(f"{seed} {what}") for what in ("poses", "holds", "places")
        )
        self.turns = self._turns()

    def calls(self) -> Iterator[Call]:
        """All calls in order."""
        last, place = "", ""
        for callout in range(1, self.wish.callouts + 1):
            if callout > 1 and self.wish.neighbours:
                place = self.places.choice([p for p in PLACES if p != place])
                yield Call(self.stance("front"), place, callout, 6.0, False, held=False)
            one = list(self._callout(callout, last))
            last = one[-1].pose.name
            if callout < self.wish.callouts:
                one[-1] = replace(one[-1], rest=self.wish.between)
            yield from one

    def _callout(self, callout: int, last: str) -> Iterator[Call]:
        kind = self.wish.kind
        if kind in ("turns", "both"):
            yield from self._turning(callout)
        if kind in ("mandatories", "both"):
            for pose, say in self._mandatory():
                yield self._call(pose, say, callout)
        if kind == "random":
            yield from self._drawn(callout, last)

    def _turning(self, callout: int) -> Iterator[Call]:
        order = _TURN_ORDER[self.turns]
        for k, side in enumerate(order):
            say = _TURN_WORDS[self.turns] if k else _SIDE_WORDS["front"]
            call = self._call(self.stance(side), say, callout)
            # Turns follow each other; only behind the last one is relaxed.
            yield call if k + 1 == len(order) else replace(call, relax=False, rest=0.0)

    def _drawn(self, callout: int, last: str) -> Iterator[Call]:
        """Poses drawn evenly from all but the one before, where there is another."""
        pool: Sequence[tuple[Pose, str]] = self._mandatory()
        if self.stances:
            sides = dict.fromkeys(_TURN_ORDER[self.turns])
            pool = [(self.stance(side), _SIDE_WORDS[side]) for side in sides]
        for _unused in range(self.wish.calls or len(pool)):
            others = [entry for entry in pool if entry[0].name != last]
            pose, say = self.poses.choice(others or pool)
            last = pose.name
            yield self._call(pose, say, callout)

    def _call(self, pose: Pose, say: str, callout: int) -> Call:
        wish = self.wish
        hold = self.holds.uniform(wish.hold, wish.longest) + wish.grows * (callout - 1)
        hold = min(hold, MOST_HOLD)
        if wish.first_longer and callout == 1:
            hold *= FIRST_LONGER
        return Call(pose, say, callout, round(hold, 1), rest=wish.rest)

    def _mandatory(self) -> tuple[tuple[Pose, str], ...]:
        wish = self.wish
        return mandatory_poses(self.rules, self.catalogue, figure=self.figure, side=wish.side)

    def stance(self, side: str) -> Pose:
        """The division's stance that shows a side to the judges."""
        return self.catalogue.find(f"{self.stances}{side} stance")

    def _turns(self) -> str:
        for body, stances in _FRONT_AND_BACK:
            if self.rules.body.startswith(body) and self.stances in stances:
                return "half"
        return self.rules.turns or "right"

    def notes(self) -> Iterator[str]:
        """Where it comes from."""
        rules, kind = self.rules, self.wish.kind
        if kind in ("turns", "both"):
            if rules.turns or self.turns == "half":
                yield _("Turns: {name}.", name=shown(rules.name))
            else:
                yield (
                    _(
                        "Turns: to the right as at most bodies; {name} does not say (common "
                        "practice).",
                        name=shown(rules.name),
                    )
                )
        if kind != "turns" and not self.stances:
            if _for(self.figure, rules, rules.mandatory_for(self.figure)):
                order = _(" in the order of") if kind != "random" else ":"
                yield _("Poses{order} {name}.", order=order, name=shown(rules.name))
            else:
                yield (
                    _(
                        "Poses: those of most bodies; {name} has no list (common practice).",
                        name=shown(rules.name),
                    )
                )
        yield _("Holds and rests: common practice, no rule text found states seconds.")
        note = shown(rules.note)
        yield f"{note[:1].upper()}{note[1:]}."


def _pose(name: str, rules: RuleSet, catalogue: Catalogue, side: str) -> Pose:
    """The catalogue's pose for a rule's name: with open hands, of one side, or as it is."""
    tried = [f"{name} {side}", name, f"{name} crab"]
    if any(name == family for family in rules.open_hands):
        tried.insert(0, f"{name} open hands")
    for words in tried:
        try:
            return catalogue.find(words)
        except KeyError:
            continue
    # An own rule set may name what no catalogue has: it is called all the same.
    return replace(catalogue.find("front stance"), name=name, say=name)

"""Checks of which poses are shown: asked for, forbidden, repeated, how they are balanced."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator

from rehearse.routine.checks.case import Case
from rehearse.routine.checks.finding import Finding, Severity
from rehearse.routine.follow import names_aside
from rehearse.routine.model import Facing
from rehearse.routine.poses import plain
from rehearse.routine.rules import Forbidden
from rehearse.routine.timed_pose import TimedPose
from rehearse.words import _, shown


def check_required(case: Case) -> Iterator[Finding]:
    """Required and mandatory poses that are missing, those of men only, hands that must be open."""
    names = [plain(s.pose.name) for s in case.timed_poses]
    for name in _missing(case.rules.required, names):
        yield Finding(
            "required",
            Severity.FAULT,
            _(
                "{name} requires {name2}, the routine has none",
                name=shown(case.rules.name),
                name2=shown(name),
            ),
            _("put one in, or {note}", note=shown(case.rules.note)),
        )
    if missing := _missing(case.rules.mandatory_for(case.routine.figure), names):
        yield Finding(
            "mandatory",
            Severity.WARNING,
            _(
                "of the mandatory poses of {name} the routine does not show {missing}",
                name=shown(case.rules.name),
                missing=", ".join(map(shown, missing)),
            ),
            _("show them if they are strong, and {note}", note=shown(case.rules.note)),
        )

    for timed_pose in case.timed_poses:
        yield from _form(case, timed_pose)


def missing(case: Case) -> list[str]:
    """Names or families that the rules require and the routine lacks, then the mandatory ones."""
    names = [plain(s.pose.name) for s in case.timed_poses]
    wanted = (*case.rules.required, *case.rules.mandatory_for(case.routine.figure))
    return _missing(dict.fromkeys(wanted), names)


def _form(case: Case, timed_pose: TimedPose) -> Iterator[Finding]:
    rules, name = case.rules, plain(timed_pose.pose.name)
    if case.routine.figure != "man" and any(name.startswith(plain(p)) for p in rules.men_only):
        why = _(
            "{name} has {name2} for men only",
            name=shown(rules.name),
            name2=shown(timed_pose.pose.name),
        )
        do = _("swap it for another pose, or {note}", note=shown(rules.note))
        yield Finding.about(timed_pose, "men only", Severity.FAULT, why, do)
    family = any(name.startswith(plain(pose)) for pose in rules.open_hands)
    if family and "open" not in f"{name} {plain(timed_pose.placed.note)}".split():
        why = _("{name} shows it with open hands", name=shown(rules.name))
        do = _("swap it for its form with open hands, or say so in its note")
        yield Finding.about(timed_pose, "open hands", Severity.WARNING, why, do)


def _missing(wanted: Iterable[str], names: list[str]) -> list[str]:
    # A family ("side chest") is shown by any of its sides.
    return [w for w in wanted if not any(n.startswith(plain(w)) for n in names)]


#: Degrees the trunk is tipped forward from which it counts as bent, and the move that does it.
_BENT, _BENDING = 45.0, "bend forward"


def check_forbidden(case: Case) -> Iterator[Finding]:
    """A pose that is forbidden is a fault, a note that speaks of one a warning."""
    for rule in case.rules.forbidden:
        because = f"; {shown(rule.why)}" if rule.why else ""
        for timed_pose in case.timed_poses:
            if _is_meant(rule, timed_pose):
                why = _(
                    "{name} forbids {what}{because}",
                    name=shown(case.rules.name),
                    what=shown(rule.what),
                    because=because,
                )
                do = _("delete it, or {note}", note=shown(case.rules.note))
                yield Finding.about(timed_pose, "forbidden", Severity.FAULT, why, do)
            elif _holds(timed_pose.placed.note, rule.words):
                why = _(
                    "the note may mean {what}, which {name} forbids{because}",
                    what=shown(rule.what),
                    name=shown(case.rules.name),
                    because=because,
                )
                yield Finding.about(
                    timed_pose, "forbidden", Severity.WARNING, why, _("look at the note")
                )


def _is_meant(rule: Forbidden, timed_pose: TimedPose) -> bool:
    name = plain(timed_pose.pose.name)
    family = any(name.startswith(plain(pose)) for pose in rule.poses)
    return (
        family
        or _holds(f"{name} {timed_pose.placed.say}", rule.words)
        or _has_shape(rule, timed_pose)
    )


def _has_shape(rule: Forbidden, timed_pose: TimedPose) -> bool:
    """Whether the body, or a move on the way to it, is bent forward with its back to the judges."""
    if not rule.shape or not 90 < timed_pose.facing.turned < 270:
        return False
    bends = any(move.move == _BENDING for move in timed_pose.placed.moves)
    return bends or timed_pose.figure.lean + timed_pose.figure.bend >= _BENT


def _holds(text: str, words: tuple[str, ...]) -> bool:
    padded = f" {plain(text)} "
    return any(f" {plain(word)} " in padded for word in words)


def check_repeats(case: Case) -> Iterator[Finding]:
    """The second showing of a pose, with the place of the first."""
    first: dict[tuple[str, str, str], TimedPose] = {}
    for timed_pose in case.timed_poses:
        key = (timed_pose.pose.name, timed_pose.facing, timed_pose.level)
        if key in first:
            yield Finding.about(
                timed_pose,
                "repeat",
                Severity.HINT,
                _("it was already shown at {hit}", hit=first[key].placed.hit),
                _("show another one, or let it come back on purpose"),
            )
        else:
            first[key] = timed_pose


#: What the judges see of each facing; three quarters of the front still show the front.
_SIDES = {facing: facing.split()[-1] for facing in Facing}


def check_balance(case: Case) -> Iterator[Finding]:
    """A side that is never shown, or one that is shown nearly always (common practice)."""
    total = len(case.timed_poses)
    if total < case.thresholds.balance_from:
        return
    shares = Counter(_SIDES[s.facing] for s in case.timed_poses)
    for side in ("front", "side", "back"):
        count = shares[side]
        if count == 0:
            yield Finding(
                "balance",
                Severity.WARNING,
                _("none of the {total} poses shows the {side}", total=total, side=shown(side)),
                _("add a {side} pose", side=shown(side)),
            )
        elif count > case.thresholds.one_facing * total:
            yield Finding(
                "balance",
                Severity.HINT,
                _(
                    "{count} of {total} poses show the {side}",
                    count=count,
                    total=total,
                    side=shown(side),
                ),
                _("turn one of them, or swap one for another side"),
            )


#: Letters of a line, and lines, that have room at 22′ of arc on the smallest screen that is used
#: from as far away as it can be. The bundled face sets 13 letters in 7.25 heights of a capital.
LETTERS, LINES = 13, 2


def check_names(case: Case) -> Iterator[Finding]:
    """The athlete's own poses and moves without a short form, each told once."""
    told = set()
    own = {pose.name: pose.say for pose in case.routine.own_poses}
    own |= {move.name: move.say for move in case.routine.own_moves}
    for timed_pose in case.timed_poses:
        for name in (timed_pose.placed.pose, *(move.move for move in timed_pose.placed.moves)):
            say = own.get(name)
            if name == timed_pose.placed.pose:
                say = timed_pose.placed.say or say
            large = fits(name) or bool(say and fits(say))
            if name in own and name not in told and not large:
                told.add(name)
                yield _finding(timed_pose, name, say or "")


def _finding(timed_pose: TimedPose, name: str, say: str) -> Finding:
    what = _("the short form of {name}", name=name) if say else name
    why = _("{what} is too long to be read from across the room", what=what)
    do = _(
        "write a short form of {lines} times {letters} letters, under Spoken",
        lines=LINES,
        letters=LETTERS,
    )
    return Finding.about(timed_pose, "name", Severity.HINT, why, do)


def fits(text: str) -> bool:
    """Whether a name has room in `LINES` lines of `LETTERS` letters, broken at spaces."""
    lines = [""]
    for word in text.split():
        longer = f"{lines[-1]} {word}".strip()
        if len(longer) <= LETTERS:
            lines[-1] = longer
        else:
            lines.append(word)
    return len([line for line in lines if line]) <= LINES and max(map(len, lines)) <= LETTERS


def check_aside(case: Case) -> Iterator[Finding]:
    """One hint for all that is set aside."""
    names = names_aside(case.routine.aside)
    if not names:
        return
    yield Finding(
        "aside",
        Severity.HINT,
        _("without music in this cut, set aside: {names}", names=names),
        _("they come back when their part of the song does: cut it otherwise"),
    )

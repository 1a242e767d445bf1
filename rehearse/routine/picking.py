"""The catalogue in the order of choosing: what the rules ask for first, then by what is shown."""

from __future__ import annotations

from collections.abc import Iterable

from rehearse.routine.model import Facing, Level
from rehearse.routine.pose import Pose
from rehearse.routine.poses import plain
from rehearse.routine.rules import RuleSet

#: The groups in their order, as they are called.
GROUPS = ("Mandatory", "Other mandatory", "Free", "Side", "Back", "Low", "Presentation", "Own")

_BACK = (Facing.BACK, Facing.LEFT_BACK, Facing.RIGHT_BACK)


def grouped(
    poses: Iterable[Pose], rules: RuleSet, figure: str
) -> tuple[tuple[str, tuple[Pose, ...]], ...]:
    """Groups of poses, each with its name; none is empty, and every pose is in one of them.

    Args:
        poses: those of a catalogue, in its order.
        rules: what they ask for comes first, in their order and in the form they ask for; where
            they name no pose, all that are mandatory anywhere.
        figure: of `model.FIGURES`; some rules ask more of men.
    """
    known = tuple(poses)
    asked = [plain(name) for name in (*rules.mandatory_for(figure), *rules.required)]
    placed = [(*place, k) for k, p in enumerate(known) if (place := _place(p, asked, rules))]
    first = [known[k] for *_, k in sorted(placed)]
    groups: dict[str, list[Pose]] = {name: [] for name in GROUPS}
    groups["Mandatory"] += first
    rest = [pose for pose in known if pose not in first]
    for pose in sorted(rest, key=lambda pose: bool(pose.form_of)):
        groups[_group(pose, "Other mandatory" if first else "Mandatory")].append(pose)
    return tuple((name, tuple(found)) for name, found in groups.items() if found)


def _place(pose: Pose, asked: list[str], rules: RuleSet) -> tuple[int, bool] | None:
    """Where a pose stands among those asked for; None when the rules do not name it."""
    name = plain(pose.name)
    families = [k for k, family in enumerate(asked) if name.startswith(family)]
    if pose.own or not families:
        return None
    # Of a family the form asked for leads: with open hands where the rules say so.
    with_open = any(name.startswith(plain(family)) for family in rules.open_hands)
    is_open = "open" in name.split()
    return families[0], not is_open if with_open else bool(pose.form_of)


def _group(pose: Pose, mandatory: str) -> str:
    if pose.own:
        return "Own"
    if pose.kind != "free":
        return mandatory if pose.kind == "mandatory" else "Presentation"
    if pose.level is not Level.STANDING:
        return "Low"
    if pose.facing in _BACK:
        return "Back"
    return "Free" if pose.facing is Facing.FRONT and not pose.side else "Side"

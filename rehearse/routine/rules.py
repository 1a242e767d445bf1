"""Rule sets: what a body asks of a free posing routine at one event, as data.

Rules differ by federation, affiliate and event, so a set names its body, event, date and
source, and always says to check the show's own sheet. Packaged sets come first; own ones in the
athlete's settings (`rules/*.yaml`) and in the routine folder take the place of their key.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import platformdirs

from rehearse.files.atomic import fault_of, save_atomic
from rehearse.files.fault import Fault
from rehearse.files.reading import Reading, nearest
from rehearse.files.resources import resource
from rehearse.files.yamlfile import load_yaml
from rehearse.music.position import parse_length

FORMAT = 1
CHECK_YOUR_SHEET = "check your show's own sheet"

_TOP = (
    *("format", "name", "body", "event", "date", "source", "limit", "minimum", "warning"),
    *("mandatory", "required", "forbidden", "remember", "note"),
)
_FORBIDDEN = ("what", "words", "poses", "why")


@dataclass(frozen=True)
class Forbidden:
    """Something a routine must not hold.

    Args:
        what: as the rule says it ("lying on the stage").
        words: a pose's name, note or spoken form that holds one of them is meant.
        poses: names of catalogue poses that are meant, a family by its beginning.
        why: what follows from it.
    """

    what: str
    words: tuple[str, ...] = ()
    poses: tuple[str, ...] = ()
    why: str = ""


@dataclass(frozen=True)
class RuleSet:
    """One body's rules for one kind of event.

    Args:
        key: file name without its ending; what a routine's `rules` names.
        name: for the screen. body, event, date, source: where it comes from.
        limit, minimum: seconds of free posing allowed and wanted; None: not stated.
        warning: seconds left when the show warns.
        mandatory: the body's mandatory poses, compared in a round of their own.
        required: poses that must be in the routine itself.
        forbidden: what must not be in it. remember: what no program can check.
        note: always says to check the show's own sheet.
    """

    key: str
    name: str
    body: str = ""
    event: str = ""
    date: str = ""
    source: str = ""
    limit: float | None = None
    minimum: float | None = None
    warning: float = 10.0
    mandatory: tuple[str, ...] = ()
    required: tuple[str, ...] = ()
    forbidden: tuple[Forbidden, ...] = ()
    remember: tuple[str, ...] = ()
    note: str = CHECK_YOUR_SHEET

    @property
    def origin(self) -> str:
        """Where it comes from, in words; a set of no body (`none`) names none. May be empty."""
        body = "" if self.body == "none" else self.body
        return "; ".join(part for part in (body, self.event, self.date, self.source) if part)


def list_rules(folder: Path | None = None) -> tuple[RuleSet, ...]:
    """All rule sets by name, the own ones included.

    Args:
        folder: a routine folder whose `rules/` counts too.

    Raises:
        Faults: an own rule set is damaged; all its faults.
    """
    found = {path.stem: path for path in _files(folder)}
    return tuple(sorted(map(_read_cached, found.values()), key=lambda r: (r.name, r.key)))


def load_rules(key: str, folder: Path | None = None) -> RuleSet:
    """The rule set called `key`; an empty key is the open one.

    Raises:
        Fault: there is none of that key, or it is damaged.
    """
    found = {path.stem: path for path in _files(folder)}
    path = found.get(key or "open")
    if path is None:
        guess = nearest(key, found)
        do = f"choose {guess}" if guess else f"choose one of {', '.join(sorted(found))}"
        raise Fault(f"there is no rule set called {key}", do=do)
    return _read_cached(path)


def own_rules_folder() -> Path:
    """Where the athlete's own rule sets lie, on this machine."""
    return Path(platformdirs.user_config_path("rehearse", appauthor=False)) / "rules"


def bring_rules(key: str, source: Path, folder: Path) -> None:
    """Copy a rule set from another routine's folder where this one's does not know it.

    Raises:
        Fault: the folder cannot be written.
    """
    there = {path.stem: path for path in (source / "rules").glob("*.yaml")}.get(key)
    if there is None or key in {path.stem for path in _files(folder)}:
        return
    here = folder / "rules" / there.name
    try:
        here.parent.mkdir(exist_ok=True)
        save_atomic(here, there.read_bytes())
    except OSError as error:
        raise fault_of(error, here) from error


def _files(folder: Path | None) -> Iterator[Path]:
    yield from sorted(resource("rules").glob("*.yaml"))
    yield from sorted(own_rules_folder().glob("*.yaml"))
    if folder is not None:
        yield from sorted((folder / "rules").glob("*.yaml"))


def _read_cached(path: Path) -> RuleSet:
    return _read_at(path, path.stat().st_mtime_ns)


@lru_cache(maxsize=64)
def _read_at(path: Path, changed: int) -> RuleSet:
    return read_rules(path)


def read_rules(path: Path) -> RuleSet:
    """Read one rule set.

    Raises:
        Fault: unreadable, or written by a newer version.
        Faults: all that is wrong with it, with line and what to write instead.
    """
    top = Reading(load_yaml(path), _TOP)
    top.check_format(FORMAT)
    rules = RuleSet(
        key=path.stem,
        name=top.text("name", None),
        body=top.text("body"),
        event=top.text("event"),
        date=top.text("date"),
        source=top.text("source"),
        limit=_time(top, "limit"),
        minimum=_time(top, "minimum"),
        warning=_time(top, "warning") or 10.0,
        mandatory=top.words("mandatory"),
        required=top.words("required"),
        forbidden=tuple(_forbidden(item) for item in top.items("forbidden", _FORBIDDEN)),
        remember=top.words("remember"),
        note=top.text("note", CHECK_YOUR_SHEET),
    )
    if rules.limit and rules.minimum and rules.minimum > rules.limit:
        top.fault("minimum", "the minimum is above the limit", "write a smaller minimum")
    top.finish()
    return rules


def _time(top: Reading, name: str) -> float | None:
    return top.value(name, _seconds, None)


def _seconds(text: str) -> float | None:
    length = parse_length(text)
    if length.in_counts or length.value <= 0:
        raise ValueError(f"{text!r} is no time; write seconds such as 60 s")
    return length.value


def _forbidden(item: Reading) -> Forbidden:
    return Forbidden(
        what=item.text("what", None),
        words=item.words("words"),
        poses=item.words("poses"),
        why=item.text("why"),
    )

"""Rule sets: what a body asks of a free posing routine at one event, as data.

Rules differ by federation, affiliate and event, so a set names its body, event, date and
source, and always says to check the show's own sheet. Packaged sets come first; own ones in the
athlete's settings (`rules/*.yaml`) and in the routine folder take the place of their key.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import platformdirs

from rehearse.files.atomic import save_atomic, user_error_of
from rehearse.files.door import path_inside, read_inside
from rehearse.files.locations import resource
from rehearse.files.mapping_reader import MappingReader, nearest
from rehearse.files.user_error import UserError, UserErrors
from rehearse.files.yamlfile import MAX_BYTES, load_yaml
from rehearse.music.position import parse_length
from rehearse.words import _, shown

FORMAT = 1
CHECK_YOUR_SHEET = _("check your show's own sheet")
#: Rule sets that one folder may hold, and seconds of the longest limit.
MOST_SETS, _LONGEST = 100, 36_000.0

_TOP = (
    *("format", "name", "body", "event", "date", "source", "limit", "minimum", "warning"),
    *("mandatory", "mandatory_men", "men_only", "open_hands", "required", "forbidden", "called"),
    *("read", "word_of", "turns", "unconfirmed", "remember", "note"),
)
_FORBIDDEN = ("what", "words", "poses", "shape", "why")
#: Whose word a set is, and how that is said.
WORD_OF = {
    "body": _("the body's own text"),
    "copy": _("a copy of the body's text"),
    "affiliate": _("an affiliate's page, not the body's own word"),
    "promoter": _("promoters' pages, not the body's own word"),
    "practice": _("common practice"),
}
#: What a body shows the judges when it turns: right is the competitor's own.
TURNS = {
    "right": _("Quarter turns go to the competitor's right."),
    "left": _("Quarter turns go to the competitor's left."),
    "half": _("Half turns only: front, back, front."),
}
#: Shapes of the body that can be forbidden; see `checks.pose_checks`.
SHAPES = ("bent forward, back to the judges",)


@dataclass(frozen=True)
class Forbidden:
    """Something a routine must not hold.

    Args:
        what: as the rule says it ("lying on the stage").
        words: a pose's name, note or spoken form that holds one of them is meant.
        poses: names of catalogue poses that are meant, a family by its beginning.
        shape: one of `SHAPES` that a body must not take, or empty.
        why: what follows from it.
    """

    what: str
    words: tuple[str, ...] = ()
    poses: tuple[str, ...] = ()
    why: str = ""
    shape: str = ""


@dataclass(frozen=True)
class RuleSet:
    """One body's rules for one kind of event.

    Args:
        key: file name without its ending; what a routine's `rules` names.
        name: for the screen. body, event, date, source: where it comes from.
        limit, minimum: seconds of free posing allowed and wanted; None: not stated.
        warning: seconds left when the show warns.
        mandatory: the body's mandatory poses, compared in a round of their own; `mandatory_men`
            those asked of men besides.
        called: what is called in the rounds besides, such as a pose of one's own choice.
        men_only: poses that women do not show. open_hands: poses shown with open hands.
        read: month in which the source was read. word_of: whose word it is, a key of `WORD_OF`.
        turns: which way quarter turns go, a key of `TURNS`; empty: not stated.
        unconfirmed: what was looked for in the sources and not found, or is disputed.
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
    mandatory_men: tuple[str, ...] = ()
    men_only: tuple[str, ...] = ()
    open_hands: tuple[str, ...] = ()
    read: str = ""
    word_of: str = ""
    turns: str = ""
    unconfirmed: tuple[str, ...] = ()
    called: tuple[str, ...] = ()

    @property
    def origin(self) -> str:
        """Where it comes from, in words; a set of no body (`none`) names none. May be empty."""
        body = "" if self.body == "none" else self.body
        said = [body, shown(self.event), self.date, shown(self.source)]
        # Where the source itself says that it is common practice, once is enough.
        if self.word_of != "practice":
            said.append(WORD_OF.get(self.word_of, ""))
        if self.read:
            said.append(_("read {read}", read=self.read))
        return "; ".join(part for part in said if part)

    def mandatory_for(self, figure: str) -> tuple[str, ...]:
        """The mandatory poses of a man or a woman (`model.FIGURES`)."""
        return self.mandatory + (self.mandatory_men if figure == "man" else ())


def list_rules(folder: Path | None = None) -> tuple[RuleSet, ...]:
    """All rule sets by name, the own ones included.

    Args:
        folder: a routine folder whose `rules/` counts too.

    Raises:
        UserErrors: an own rule set is damaged; all its faults.
    """
    sets, errors = sound_rules(folder)
    if errors:
        raise UserErrors(errors)
    return sets


def sound_rules(folder: Path | None = None) -> tuple[tuple[RuleSet, ...], list[UserError]]:
    """As `list_rules`, but a damaged set is left out, and what is wrong with it told."""
    sets: list[RuleSet] = []
    errors: list[UserError] = []
    try:
        files = _files(folder)
    except UserError as error:
        files = _files(None)
        errors.append(error)
    for path in files.values():
        try:
            sets.append(_read_cached(path))
        except UserError as error:
            errors += error.errors if isinstance(error, UserErrors) else (error,)
    return tuple(sorted(sets, key=lambda r: (r.name, r.key))), errors


def load_rules(key: str, folder: Path | None = None) -> RuleSet:
    """The rule set called `key`; an empty key is the open one.

    Raises:
        UserError: there is none of that key, or it is damaged.
    """
    found = _files(folder)
    path = found.get(key or "open")
    if path is None:
        guess = nearest(key, found)
        do = (
            _("choose {guess}", guess=guess)
            if guess
            else _("choose one of {found}", found=", ".join(sorted(found)))
        )
        raise UserError(_("there is no rule set called {key}", key=key), do=do)
    return _read_cached(path)


def own_rules_folder() -> Path:
    """Where the athlete's own rule sets lie, on this machine."""
    return Path(platformdirs.user_config_path("rehearse", appauthor=False)) / "rules"


def import_rules(key: str, source: Path, folder: Path) -> None:
    """Copy a rule set from another routine's folder where this one's does not know it.

    Raises:
        UserError: the folder cannot be written.
    """
    there = _own_files(source).get(key)
    if there is None or key in _files(folder):
        return
    here = path_inside(folder, f"rules/{there.name}")
    try:
        here.parent.mkdir(exist_ok=True)
        save_atomic(here, read_inside(source, f"rules/{there.name}", MAX_BYTES))
    except OSError as error:
        raise user_error_of(error, here) from error


def _files(folder: Path | None) -> dict[str, Path]:
    """Every rule set's file by its key; a later place takes the key of an earlier one."""
    places = (resource("rules"), own_rules_folder())
    found = {path.stem: path for place in places for path in sorted(place.glob("*.yaml"))}
    return found | (_own_files(folder) if folder is not None else {})


def _own_files(folder: Path) -> dict[str, Path]:
    paths = sorted(path_inside(folder, "rules").glob("*.yaml"))
    if len(paths) > MOST_SETS:
        raise UserError(
            _(
                "has {number:,} rule sets, {most_sets} at most can be used",
                number=len(paths),
                most_sets=MOST_SETS,
            ),
            where=f"{folder.name}/rules",
            do=_("delete what you do not need"),
        )
    return {path.stem: path_inside(folder, f"rules/{path.name}") for path in paths}


def _read_cached(path: Path) -> RuleSet:
    try:
        changed = path.stat().st_mtime_ns
    except OSError as error:  # such as a link to nothing
        raise user_error_of(error, path) from error
    return _read_at(path, changed)


@lru_cache(maxsize=64)
def _read_at(path: Path, changed: int) -> RuleSet:
    return read_rules(path)


def read_rules(path: Path) -> RuleSet:
    """Read one rule set.

    Raises:
        UserError: unreadable, or written by a newer version.
        UserErrors: all that is wrong with it, with line and what to write instead.
    """
    top = MappingReader(load_yaml(path), _TOP)
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
        mandatory_men=top.words("mandatory_men"),
        men_only=top.words("men_only"),
        open_hands=top.words("open_hands"),
        read=top.text("read"),
        word_of=top.choice("word_of", WORD_OF),
        turns=top.choice("turns", TURNS),
        unconfirmed=top.words("unconfirmed"),
        called=top.words("called"),
    )
    if rules.limit and rules.minimum and rules.minimum > rules.limit:
        top.note_error("minimum", _("the minimum is above the limit"), _("write a smaller minimum"))
    top.finish()
    return rules


def _time(top: MappingReader, name: str) -> float | None:
    return top.value(name, _seconds, None)


def _seconds(text: str) -> float | None:
    length = parse_length(text)
    if length.in_counts or length.value <= 0:
        raise ValueError(_("{text!r} is no time; write seconds such as 60 s", text=text))
    if length.value > _LONGEST:
        raise ValueError(
            _("{text!r} is longer than any routine; write seconds such as 60 s", text=text)
        )
    return length.value


def _forbidden(item: MappingReader) -> Forbidden:
    return Forbidden(
        what=item.text("what", None),
        words=item.words("words"),
        poses=item.words("poses"),
        why=item.text("why"),
        shape=item.choice("shape", SHAPES),
    )

"""Reading a mapping of a document value by value, noting every fault instead of the first.

A reading answers with something usable whatever it finds, so that one look through a file finds
all that is wrong with it; `finish` then raises the lot.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from datetime import date
from pathlib import Path
from typing import Any, TypeVar

from rehearse.files.inside import inside
from rehearse.files.user_error import UserError, UserErrorList, UserErrors, halves, shortened
from rehearse.files.yamlfile import Document, Key
from rehearse.words import _

T = TypeVar("T")

#: Characters of a name or another text of one line, and items of a list, unless said otherwise.
LONGEST_LINE = 1000
MOST_ITEMS = 2000


def nearest(word: str, words: Iterable[str]) -> str:
    """The one of `words` most like `word`, or "" when none is near (two of five letters off)."""
    if len(word) > 80:  # no name is as long, and comparing takes the square of it
        return ""
    import difflib  # only for a faulty file, so not when the window opens

    return next(iter(difflib.get_close_matches(word.lower(), list(words), n=1, cutoff=0.6)), "")


class MappingReader:
    """One mapping of a document.

    Args:
        document: the file.
        keys: where in it the mapping stands; () is the top.
        known: the names that may stand in it; any other is a fault that guesses which was meant.
        errors: the list shared by all readings of the file.
    """

    def __init__(
        self,
        document: Document,
        known: Iterable[str],
        keys: tuple[Key, ...] = (),
        errors: UserErrorList | None = None,
    ) -> None:
        self.document, self.keys = document, keys
        self.errors = UserErrorList() if errors is None else errors
        data = document.data
        for key in keys:
            data = data[key]
        self.data: dict[str, Any] = data if isinstance(data, dict) else {}
        names = tuple(known)
        if not isinstance(data, dict):
            self.note_error(
                "",
                _("is not written as names and values"),
                _("write {names}: and a value", names=names[0]),
            )
        for name in self.data:
            if name not in names:
                guess = nearest(name, names)
                do = (
                    _("write {guess}", guess=guess)
                    if guess
                    else _("delete it; known are {names}", names=", ".join(names))
                )
                self.note_error(name, _("{name!r} is not known here", name=shortened(name, 60)), do)

    def note_error(self, name: str, what: str, do: str) -> None:
        """Note that the value `name` is wrong."""
        keys = (*self.keys, name) if name else self.keys
        self.errors.append(UserError(what, where=self.document.where(*keys), do=do))

    def has(self, name: str) -> bool:
        """Whether a value is written, `null` not counting."""
        return self.data.get(name) is not None

    def text(self, name: str, default: str | None = "", *, most: int = LONGEST_LINE) -> str:
        """A text as it was written, of `most` characters; `default` None makes it required."""
        if not self.has(name):
            if default is None:
                self.note_error(
                    name,
                    _("{name} is missing", name=name),
                    _("write {name}: and its value", name=name),
                )
            return default or ""
        value = self.data[name]
        if isinstance(value, list | dict):
            self.note_error(
                name,
                _("{name} is a list, not a text", name=name),
                _("write {name}: and one line", name=name),
            )
            return default or ""
        text = value if isinstance(value, str) else self.document.plain[(*self.keys, name)]
        if len(text) > most:
            what = _(
                "{name} has {number:,} characters, {most:,} at most can be used",
                name=name,
                number=len(text),
                most=most,
            )
            self.note_error(name, what, _("shorten it"))
            return default or ""
        return text

    def value(self, name: str, convert: Callable[[str], T], default: T) -> T:
        """A text turned into something by `convert`, whose ValueError says what to write."""
        if not self.has(name):
            return default
        found = len(self.errors)
        text = self.text(name)
        if len(self.errors) > found:  # told already
            return default
        try:
            return convert(text)
        except ValueError as error:
            what, do = halves(error)
            self.note_error(name, f"{name}: {what}", do or _("write it as DEVELOPERS.md shows it"))
            return default

    def reference(self, name: str, folder: Path, default: str | None = "") -> str:
        """A file's name in `folder`, which must not lead out of it; as `text` else."""
        text = self.text(name, default)
        try:
            inside(folder, text)
        except ValueError as error:
            what, do = halves(error)
            self.note_error(name, f"{name}: {what}", do)
        return text

    def choice(self, name: str, choices: Iterable[str], default: str = "") -> str:
        """One of `choices`, guessed at when it is nearly one."""
        known, text = tuple(choices), self.text(name, default)
        if not self.has(name) or text in known:
            return text
        guess = nearest(text, known)
        do = (
            _("write {guess}", guess=guess)
            if guess
            else _("write one of {known}", known=", ".join(known))
        )
        self.note_error(
            name, _("{name}: {text!r} is not known", name=name, text=shortened(text, 60)), do
        )
        return default

    def number(self, name: str, default: float, low: float, high: float) -> float:
        """A number in [low, high]."""
        value = self.data.get(name)
        if value is None:
            return default
        if isinstance(value, bool) or not isinstance(value, int | float):
            self.note_error(
                name,
                _("{name}: {value} is no number", name=name, value=shortened(repr(value), 60)),
                _("write {low:g} to {high:g}", low=low, high=high),
            )
        elif not low <= value <= high:
            self.note_error(
                name,
                _("{name}: {value:g} is out of range", name=name, value=value),
                _("write {low:g} to {high:g}", low=low, high=high),
            )
        else:
            return float(value)
        return default

    def words(self, name: str, *, most: int = MOST_ITEMS) -> tuple[str, ...]:
        """A list of texts, `most` of them."""
        value = self.data.get(name)
        if value is None:
            return ()
        if not isinstance(value, list) or not all(isinstance(v, str) for v in value):
            self.note_error(
                name,
                _("{name} is not a list of words", name=name),
                _("write {name}: [one, another]", name=name),
            )
            return ()
        if sum(map(len, value)) > LONGEST_LINE * 10 or len(value) > most:
            what = _(
                "{name} has more than can be used, {most:,} of {longest_line:,} letters",
                name=name,
                most=most,
                longest_line=10 * LONGEST_LINE,
            )
            self.note_error(name, what, _("shorten the list"))
            return ()
        return tuple(value)

    def inside(self, name: str, known: Iterable[str]) -> MappingReader | None:
        """The mapping under `name`, or None when it is not written."""
        if not self.has(name):
            return None
        return MappingReader(self.document, known, (*self.keys, name), self.errors)

    def items(
        self, name: str, known: Iterable[str], *, most: int = MOST_ITEMS
    ) -> Iterator[MappingReader]:
        """The mappings in the list under `name`, `most` of them."""
        value = self.data.get(name)
        if value is None:
            return
        if not isinstance(value, list):
            self.note_error(
                name, _("{name} is not a list", name=name), _('begin each of its items with "- "')
            )
            return
        if len(value) > most:
            what = _(
                "{name} has {number:,} items, {most:,} at most can be used",
                name=name,
                number=len(value),
                most=most,
            )
            self.note_error(name, what, _("take some out, or restore a version"))
            return
        names = tuple(known)
        for index in range(len(value)):
            yield MappingReader(self.document, names, (*self.keys, name, index), self.errors)

    def check_format(self, newest: int) -> None:
        """Refuse a file of a newer program at once: nothing else in it can be judged.

        Raises:
            UserError: `format` is above `newest`.
        """
        value = self.data.get("format")
        if isinstance(value, int) and not isinstance(value, bool) and value > newest:
            raise UserError(
                _(
                    "was written by a newer version (format {value}, this one reads {newest})",
                    value=value,
                    newest=newest,
                ),
                where=self.document.where("format"),
                do=_("update Rehearse; the file was left as it is"),
            )
        if isinstance(value, bool) or not isinstance(value, int) or value < 1:
            self.note_error(
                "format",
                _("the format is missing"),
                _("write format: {newest} at the top", newest=newest),
            )

    def finish(self) -> None:
        """Raise all faults noted, in the order of their lines.

        Raises:
            UserErrors: there is at least one.
        """
        if self.errors:
            raise UserErrors(self.errors)


def iso_date(text: str) -> str:
    """`text` when it is a date such as 2027-04-17.

    Raises:
        ValueError: with a message that says what to write instead.
    """
    try:
        return date.fromisoformat(text).isoformat()
    except ValueError:
        raise ValueError(
            _("{text!r} is no date; write year-month-day such as 2027-04-17", text=text)
        ) from None

"""File names put together of named parts, safe on every system the show's desk may use."""

from __future__ import annotations

import itertools
import string
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from rehearse.files.atomic import user_error_of
from rehearse.files.inside import safe_name
from rehearse.files.user_error import UserError
from rehearse.routine.zip_import import bundle_name
from rehearse.words import _

#: What a name may be put together of.
FIELDS = ("number", "name", "division", "length", "title", "show")
PATTERN = "number, name, division, length"
#: Ready-made ones, to be chosen from.
PATTERNS = (
    PATTERN,
    "number, name, division",
    "number, name",
    "name, division, length",
    "name, title",
    "title, length",
    "show, number, name",
)
#: What a field was called before.
_FORMER = {"class": "division"}


def length_words(seconds: float) -> str:
    """A length for a file's name: `1m15s`, `58s`; tenths only when there are any."""
    tenths = round(seconds * 10)
    minutes, rest = divmod(tenths, 600)
    number = f"{rest // 10}" if rest % 10 == 0 else f"{rest / 10:.1f}"
    return f"{minutes}m{number.zfill(2)}s" if minutes else f"{number}s"


def in_words(pattern: str) -> str:
    """A pattern as it is shown: "{number} {name}" is "number, name"."""
    for former, now in _FORMER.items():
        pattern = pattern.replace(f"{{{former}}}", f"{{{now}}}")
    plain = pattern.replace("{", "").replace("}", "").replace(",", " ")
    return ", ".join(plain.split())


def file_name(pattern: str, values: Mapping[str, str], fallback: str) -> str:
    """The pattern filled in, without ending; `fallback` goes before a length that is left alone,
    and stands for a pattern of which nothing is left.

    Args:
        pattern: fields in their order, "number, name"; or with other text between them,
            "{number}-{name}".

    Raises:
        UserError: the pattern is not one, or names an unknown field.
    """
    words = pattern.replace(",", " ").split()
    known = {*FIELDS, *_FORMER}
    if words and "{" not in pattern:
        if unknown := [word for word in words if word not in known]:
            raise _bad(" ".join(unknown))
        pattern = " ".join(f"{{{word}}}" for word in words)
    try:
        parts = tuple(string.Formatter().parse(pattern))
    except ValueError as error:
        raise _bad(pattern) from error
    for _unused, name, format_spec, conversion in parts:
        if name is not None and (name not in known or format_spec or conversion):
            raise _bad(pattern)
    given = {n: values.get(_FORMER.get(n, n), "") for n in known}
    filled = pattern.format_map(given)
    told = any(given[name] for _unused, name, *_rest in parts if name and name != "length")
    # A length alone tells nobody whose music it is.
    whole = filled if told or not safe_name(filled) else f"{fallback} {filled}"
    return safe_name(whole) or safe_name(fallback) or "routine"


def ending_of(out: Path) -> str:
    """How the file `out` ends ("mp3"); empty when it does not say, or is a folder.

    Raises:
        UserError: it cannot be the name of a file.
    """
    try:
        return "" if out.is_dir() else out.suffix.removeprefix(".").lower()
    except OSError as error:  # such as a name that is too long
        raise user_error_of(error, Path(out.name[:40] + "…")) from error


def target(out: Path, name: str, ending: str, beside: Sequence[str] = ("",)) -> Path:
    """The file to write: `out` itself, or `name` in it when it is a folder.

    Nothing is replaced: a taken name gets the next free number.

    Args:
        out: without an ending it gets `ending`.
        beside: what is written behind the name, where that is several files (" page 1", …).

    Raises:
        UserError: the folder it should lie in does not exist, or `out` ends otherwise.
    """
    given = ending_of(out)
    if out.is_dir():
        return _free(out, name, ending, beside)
    if not out.parent.is_dir():
        raise UserError(
            _("there is no such folder"), where=out.parent, do=_("make it or choose another")
        )
    if given and given != ending:
        raise UserError(
            _("the name ends in {given}, but {ending} is written", given=given, ending=ending),
            where=out.name,
            do=_("let it end in .{ending}, or ask for another format", ending=ending),
        )
    if given and not _taken(out, beside):
        return out
    return _free(out.parent, out.stem if given else out.name, ending, beside)


def kept_words(path: Path, out: Path, name: str) -> tuple[str, ...]:
    """A sentence where `target` found its name taken, so that `path` has a number.

    Args:
        out, name: as they were given to `target`.
    """
    wished = name if out.is_dir() else out.stem if ending_of(out) else out.name
    stem = bundle_name(path)
    if stem == wished:
        return ()
    ending = path.name.removeprefix(stem)
    return (
        _(
            "An earlier {wished}{ending} is kept; the new one is {name}.",
            wished=wished,
            ending=ending,
            name=path.name,
        ),
    )


def _free(folder: Path, name: str, ending: str, beside: Sequence[str]) -> Path:
    return next(p for p in _numbered(folder, name, ending) if not _taken(p, beside))


def _numbered(folder: Path, name: str, ending: str) -> Iterator[Path]:
    yield folder / f"{name}.{ending}"
    yield from (folder / f"{name} {k}.{ending}" for k in itertools.count(2))


def _taken(path: Path, beside: Sequence[str]) -> bool:
    return any(path.with_name(f"{path.stem}{more}{path.suffix}").exists() for more in beside)


def _bad(pattern: str) -> UserError:
    known = _("{fields} and {fields2}", fields=", ".join(FIELDS[:-1]), fields2=FIELDS[-1])
    return UserError(
        _("a file's name cannot be made of {pattern!r}", pattern=pattern),
        do=_("choose among {known}, with commas", known=known),
    )

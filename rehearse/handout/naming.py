"""File names by a pattern, safe on every system the show's desk may use."""

from __future__ import annotations

import re
import string
from collections.abc import Mapping
from pathlib import Path

from rehearse.files.fault import Fault

PATTERN = "{number} {name} {class} {length}"
#: What a pattern may hold.
FIELDS = ("number", "name", "class", "length", "title", "show")
_FORBIDDEN = re.compile(r'[\\/:*?"<>|\x00-\x1f\x7f]+')
_RESERVED = re.compile(r"^(?:con|prn|aux|nul|com[1-9]|lpt[1-9])$", re.IGNORECASE)
_LONGEST = 100


def length_words(seconds: float) -> str:
    """A length for a file's name: `1m15s`, `58s`; tenths only when there are any."""
    tenths = round(seconds * 10)
    minutes, rest = divmod(tenths, 600)
    number = f"{rest // 10}" if rest % 10 == 0 else f"{rest / 10:.1f}"
    return f"{minutes}m{number.zfill(2)}s" if minutes else f"{number}s"


def file_name(pattern: str, values: Mapping[str, str], fallback: str) -> str:
    """The pattern filled in, without ending; `fallback` when nothing is left of it.

    Raises:
        Fault: the pattern is not one, or names an unknown field.
    """
    try:
        fields = [name for _, name, _, _ in string.Formatter().parse(pattern) if name is not None]
    except ValueError as error:
        raise _bad(pattern) from error
    if any(name not in FIELDS for name in fields):
        raise _bad(pattern)
    filled = pattern.format_map({name: values.get(name, "") for name in FIELDS})
    return safe_name(filled) or safe_name(fallback) or "routine"


def safe_name(text: str) -> str:
    """`text` without what file systems refuse, at most 100 characters; may be empty."""
    plain = " ".join(_FORBIDDEN.sub(" ", text).split()).strip(" .-–_")[:_LONGEST].rstrip(" .")
    return f"{plain} file" if _RESERVED.match(plain) else plain


def target(out: Path, name: str, ending: str) -> Path:
    """The file to write: `out` itself, or `name` in it when it is a folder or has no ending.

    Raises:
        Fault: the folder it should lie in does not exist.
    """
    if out.is_dir():
        return out / f"{name}.{ending}"
    if not out.parent.is_dir():
        raise Fault("there is no such folder", where=out.parent, do="make it or choose another")
    return out if out.suffix else out.with_name(f"{out.name}.{ending}")


def _bad(pattern: str) -> Fault:
    known = ", ".join(f"{{{name}}}" for name in FIELDS)
    return Fault(f"the pattern {pattern!r} cannot be used", do=f"write it with {known}")

"""Safe YAML with the line of every value, so that a fault can name where it stands.

Aliases and custom tags are refused: a routine folder comes from other people's machines.
Plain words are read by the YAML 1.2 core schema (section 10.3): with the older rules `3:5`
would become the number 185, `no` a truth value and `2026-11-25` a date.

The data is built straight from the parser's events: one walk sees every line, anchor and tag,
and the parser may be libyaml's, some ten times faster than the one in Python.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, ClassVar

import yaml

from rehearse.files.door import read_file
from rehearse.files.user_error import UserError
from rehearse.words import _

Key = str | int
Lines = dict[tuple[Key, ...], int]
Plain = dict[tuple[Key, ...], str]
#: A beat map of half an hour takes less than 1 MB.
MAX_BYTES = 4_000_000
MAX_DEPTH = 40
#: Values of all kinds in one file; two thousand poses with all they can have are 20,000.
MAX_VALUES = 50_000

_Parser: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_Dumper: Any = getattr(yaml, "CSafeDumper", yaml.SafeDumper)

_NULL = re.compile(r"^(?:~|null|Null|NULL|)$")
_BOOL = re.compile(r"^(?:true|True|TRUE|false|False|FALSE)$")
_INT = re.compile(r"^[-+]?[0-9]+$")
_FLOAT = re.compile(r"^[-+]?(?:\.[0-9]+|[0-9]+(?:\.[0-9]*)?)(?:[eE][-+]?[0-9]+)?$")
#: Readers of YAML 1.1 take `6:1` for minutes and seconds, so counts are written quoted.
_COUNT = re.compile(r"^[-+]?[0-9]+(?::[0-9]+)+[e&a]?(?:\.[0-9]*)?$")
_TAG = "tag:yaml.org,2002:"


class _CoreDumper(_Dumper):  # type: ignore[misc]
    yaml_implicit_resolvers: ClassVar[dict[str, Any]] = {}

    def ignore_aliases(self, data: Any) -> bool:
        return True


for _name, _pattern, _first in (
    ("null", _NULL, ["~", "n", "N", ""]),
    ("bool", _BOOL, list("tTfF")),
    ("int", _INT, list("-+0123456789")),
    ("float", _FLOAT, list("-+.0123456789")),
    ("sexagesimal", _COUNT, list("-+0123456789")),
):
    _CoreDumper.add_implicit_resolver(_TAG + _name, _pattern, _first)


@dataclass(frozen=True)
class Document:
    """Plain data of a YAML file and the 1-based line at which each value begins.

    `lines[("poses", 3, "hit")]` is the line of the fourth pose's `hit`. `plain` holds, by the
    same keys, how a value that is not text was written (`007`), for places that want text.
    """

    path: Path
    data: Any
    lines: Lines = field(repr=False)
    plain: Plain = field(repr=False, default_factory=dict)

    def where(self, *keys: Key) -> str:
        """`file, line N` of the value at `keys`, or of its nearest parent that exists."""
        while keys and keys not in self.lines:
            keys = keys[:-1]
        return _("{name}, line {lines}", name=self.path.name, lines=self.lines.get(keys, 1))


def load_yaml(path: Path) -> Document:
    """Read one YAML document with line numbers.

    Raises:
        UserError: unreadable, no ordinary file, not UTF-8, not YAML, too large, or using aliases or
            tags.
    """
    return parse_yaml(read_file(path, MAX_BYTES), path)


def parse_yaml(raw: bytes, path: Path) -> Document:
    """As `load_yaml`, for bytes already read; `path` only names them."""
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        where = _("{name}, line {line}", name=path.name, line=line)
        raise UserError(_("is not UTF-8 text"), where=where, do=_("save it as UTF-8")) from error
    builder = _Builder(path, yaml.parse(text, Loader=_Parser))
    try:
        data = builder.document()
    except yaml.YAMLError as error:
        mark: Any = getattr(error, "problem_mark", None)
        where = _("{name}, line {line}", name=path.name, line=mark.line + 1) if mark else path.name
        problem = getattr(error, "problem", None) or getattr(error, "reason", _("cannot be read"))
        raise UserError(
            _("is not valid YAML ({problem})", problem=problem),
            where=where,
            do=_("mend that line or restore a version"),
        ) from error
    return Document(path, data, builder.lines, builder.plain)


class _Builder:
    """Plain data from a stream of parser events, with the line of every value."""

    def __init__(self, path: Path, events: Iterator[Any]) -> None:
        self.path, self.events = path, events
        self.lines: Lines = {}
        self.plain: Plain = {}
        self.values = 0

    def document(self) -> Any:
        """The one document of the stream; None when it is empty."""
        data, documents = None, 0
        for event in self.events:
            if isinstance(event, yaml.DocumentStartEvent):
                documents += 1
                if documents > 1:
                    raise self._user_error(
                        event, _("has a second document in it"), _("keep only the first")
                    )
                data = self._value(next(self.events), ())
        return data

    def _value(self, event: Any, keys: tuple[Key, ...]) -> Any:
        if isinstance(event, yaml.AliasEvent) or event.anchor is not None:
            raise self._user_error(event, _("uses a YAML alias"), _("write the value out in full"))
        if len(keys) > MAX_DEPTH:
            raise self._user_error(event, _("is nested too deeply"), _("restore a version"))
        self.values += 1
        if self.values > MAX_VALUES:
            raise self._user_error(
                event,
                _("holds more than {max_values} values", max_values=MAX_VALUES),
                _("restore a version"),
            )
        self.lines.setdefault(keys, _line(event))
        if isinstance(event, yaml.ScalarEvent):
            return self._scalar(event, keys)
        if isinstance(event, yaml.SequenceStartEvent):
            self._refuse_tag(event, "seq")
            return self._sequence(keys)
        self._refuse_tag(event, "map")
        return self._mapping(keys)

    def _sequence(self, keys: tuple[Key, ...]) -> list[Any]:
        result: list[Any] = []
        while not isinstance(event := next(self.events), yaml.SequenceEndEvent):
            result.append(self._value(event, (*keys, len(result))))
        return result

    def _mapping(self, keys: tuple[Key, ...]) -> dict[str, Any]:
        result: dict[str, Any] = {}
        while not isinstance(event := next(self.events), yaml.MappingEndEvent):
            if isinstance(event, yaml.AliasEvent) or event.anchor is not None:
                raise self._user_error(
                    event, _("uses a YAML alias"), _("write the value out in full")
                )
            if not isinstance(event, yaml.ScalarEvent):
                raise self._user_error(
                    event, _("has a list where a name is expected"), _("write one word")
                )
            key = str(event.value)
            if key in result:
                raise self._user_error(
                    event, _("has {key!r} twice", key=key), _("keep one of them")
                )
            self.lines[(*keys, key)] = _line(event)
            result[key] = self._value(next(self.events), (*keys, key))
        return result

    def _scalar(self, event: Any, keys: tuple[Key, ...]) -> Any:
        text = str(event.value)
        plain, quoted = event.implicit
        if not plain or event.style:
            if not plain and not quoted:
                self._refuse_tag(event, "str")
            return text
        value = _core_value(text)
        if not isinstance(value, str):
            self.plain[keys] = text
        return value

    def _refuse_tag(self, event: Any, own: str) -> None:
        if event.tag not in (None, "!", _TAG + own):
            raise self._user_error(
                event, _("uses the YAML tag {tag!r}", tag=event.tag), _("write the value plainly")
            )

    def _user_error(self, event: Any, what: str, do: str) -> UserError:
        return UserError(
            what, where=_("{name}, line {line}", name=self.path.name, line=_line(event)), do=do
        )


def _line(event: Any) -> int:
    return int(event.start_mark.line) + 1


def _core_value(text: str) -> Any:
    if _INT.match(text):
        # Python refuses numbers of more than 4300 digits; as a float such a one is infinite.
        return int(text) if len(text) < 100 else float(text)
    if _FLOAT.match(text):
        return float(text)
    if _BOOL.match(text):
        return text[0] in "tT"
    return None if _NULL.match(text) else text


def dump_yaml(data: Any) -> bytes:
    """YAML bytes with stable order, block style and no aliases."""
    text = yaml.dump(
        data,
        Dumper=_CoreDumper,
        sort_keys=False,
        allow_unicode=True,
        width=100,
        default_flow_style=False,
    )
    return str(text).encode()

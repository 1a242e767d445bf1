"""Safe YAML with the line of every value, so that a fault can name where it stands.

Aliases and custom tags are refused: a routine folder comes from other people's machines.
Plain words are read by the YAML 1.2 core schema (section 10.3): with the older rules `3:5`
would become the number 185, `no` a truth value and `2026-11-25` a date.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, ClassVar

import yaml

from rehearse.files.atomic import fault_of
from rehearse.files.fault import Fault

Key = str | int
MAX_BYTES = 20_000_000

_CORE = (
    ("tag:yaml.org,2002:null", re.compile(r"^(?:~|null|Null|NULL|)$"), ["~", "n", "N", ""]),
    ("tag:yaml.org,2002:bool", re.compile(r"^(?:true|True|TRUE|false|False|FALSE)$"), list("tTfF")),
    ("tag:yaml.org,2002:int", re.compile(r"^[-+]?[0-9]+$"), list("-+0123456789")),
    (
        "tag:yaml.org,2002:float",
        re.compile(r"^[-+]?(?:\.[0-9]+|[0-9]+(?:\.[0-9]*)?)(?:[eE][-+]?[0-9]+)?$"),
        list("-+.0123456789"),
    ),
)


class _CoreLoader(yaml.SafeLoader):
    yaml_implicit_resolvers: ClassVar[dict[str, Any]] = {}  # type: ignore[misc]


class _CoreDumper(yaml.SafeDumper):
    yaml_implicit_resolvers: ClassVar[dict[str, Any]] = {}  # type: ignore[misc]

    def ignore_aliases(self, data: Any) -> bool:
        return True


for _tag, _pattern, _first in _CORE:
    _CoreLoader.add_implicit_resolver(_tag, _pattern, _first)
    _CoreDumper.add_implicit_resolver(_tag, _pattern, _first)


@dataclass(frozen=True)
class Document:
    """Plain data of a YAML file and the 1-based line at which each value begins.

    `lines[("poses", 3, "hit")]` is the line of the fourth pose's `hit`.
    """

    path: Path
    data: Any
    lines: dict[tuple[Key, ...], int] = field(repr=False)

    def where(self, *keys: Key) -> str:
        """`file, line N` of the value at `keys`, or of its nearest parent that exists."""
        while keys and keys not in self.lines:
            keys = keys[:-1]
        return f"{self.path.name}, line {self.lines.get(keys, 1)}"


def load_yaml(path: Path) -> Document:
    """Read one YAML document with line numbers.

    Raises:
        Fault: unreadable, not UTF-8, not YAML, too large, or using aliases or tags.
    """
    try:
        raw = path.read_bytes()
    except OSError as error:
        raise fault_of(error, path) from error
    if len(raw) > MAX_BYTES:
        raise Fault("is larger than 20 MB", where=path.name, do="restore it from versions/")
    return parse_yaml(raw, path)


def parse_yaml(raw: bytes, path: Path) -> Document:
    """As `load_yaml`, for bytes already read; `path` only names them."""
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        where = f"{path.name}, line {line}"
        raise Fault("is not UTF-8 text", where=where, do="save it as UTF-8") from error
    loader = _CoreLoader(text)
    try:
        _refuse_aliases(text, path)
        node = loader.get_single_node()
        lines: dict[tuple[Key, ...], int] = {}
        data = _build(node, (), lines, loader, path) if node is not None else None
    except yaml.YAMLError as error:
        mark = getattr(error, "problem_mark", None)
        where = f"{path.name}, line {mark.line + 1}" if mark else path.name
        problem = getattr(error, "problem", None) or "cannot be read"
        raise Fault(
            f"is not valid YAML ({problem})", where=where, do="mend that line or restore a version"
        ) from error
    except RecursionError as error:
        raise Fault("is nested too deeply", where=path.name, do="restore a version") from error
    finally:
        loader.dispose()
    return Document(path, data, lines)


def _refuse_aliases(text: str, path: Path) -> None:
    for token in yaml.scan(text, Loader=yaml.SafeLoader):
        if isinstance(token, yaml.AliasToken | yaml.AnchorToken):
            where = f"{path.name}, line {token.start_mark.line + 1}"
            raise Fault("uses a YAML alias", where=where, do="write the value out in full")


def _build(
    node: yaml.Node,
    keys: tuple[Key, ...],
    lines: dict[tuple[Key, ...], int],
    loader: yaml.SafeLoader,
    path: Path,
) -> Any:
    lines[keys] = node.start_mark.line + 1
    if isinstance(node, yaml.MappingNode):
        result: dict[str, Any] = {}
        for key_node, value in node.value:
            key = str(key_node.value)
            if key in result:
                where = f"{path.name}, line {key_node.start_mark.line + 1}"
                raise Fault(f"has {key!r} twice", where=where, do="keep one of them")
            result[key] = _build(value, (*keys, key), lines, loader, path)
            lines[(*keys, key)] = key_node.start_mark.line + 1
        return result
    if isinstance(node, yaml.SequenceNode):
        return [_build(v, (*keys, i), lines, loader, path) for i, v in enumerate(node.value)]
    try:
        return loader.construct_object(node)
    except ValueError as error:
        where = f"{path.name}, line {lines[keys]}"
        raise Fault(
            "has a value that cannot be read", where=where, do="write it plainly"
        ) from error


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

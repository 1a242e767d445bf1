"""Files damaged by bytes and by structure; all chance comes from the `random.Random` given."""

from __future__ import annotations

import copy
import random
from collections.abc import Callable, Iterator
from typing import Any

import yaml

#: Bytes that mean something somewhere: heads, ends, lists of other files, broken letters.
TOKENS = (
    b"\0", b"\xff" * 4, b"\xfe\xff", b"\xef\xbb\xbf", b"\xed\xa0\x80", b"\r\n", b"\n---\n",
    b"&a ", b"*a",
    b"!!python/object/apply:os.system [id]", b"<<: ", b"? ", b"- ", b"{", b"}", b"[", b"]", b"|",
    b"'",
    b'"', b"#", b"%YAML 9.9\n", b"\t", b"\x1b[2J", b"RIFF", b"OggS", b"ID3", b"fLaC", b"moov",
    b"\x7fELF",
    b"PK\x05\x06", b"PK\x01\x02", b"SQLite format 3\0", b"../../", b"/dev/zero",
    b"file:///etc/passwd",
    b"http://127.0.0.1:9/x", b"\xff\xd8\xff", b"\x89PNG", b"<svg>", b"999999999999", b"-1", b"nan",
    b"0x7fffffff", b"\xff\xff\xff\x7f", b"\0\0\0\x80",
)  # fmt: skip

#: Values that are awkward wherever a value stands.
VALUES: tuple[Any, ...] = (
    None, True, False, 0, -1, 1, 2, 10**9, 10**30, 10**400, 0.5, -0.0, 1e308, float("inf"),
    float("nan"), "", " ", ".", "..", "~", "null", "no", "0", "-1 s", "0 s", "1e400 s", "nan s",
    "9" * 400, "9" * 400 + " s", "9" * 400 + ":1", "3:9", "0:0", "1:1&&", "٣:٥", "1:1\n2:2",
    "12.40", "4 counts", "-4 counts", "1000000 counts", "99999 s", "0.0000001 s", "x" * 1001,
    "x" * 100_000, "'", '"', "; ", "a; b", "%s%n", "{0}", "\0", "\x1b[31m", "\u202e\u200b",
    "\ud7ff",
    "𝔸" * 300, "../../outside/secret", "/etc/passwd", "C:\\x", "\\\\host\\share", "a/../../b",
    "pictures/../../../outside/secret", "file:///etc/passwd", "http://127.0.0.1:9/x", "/dev/zero",
    "routine.yaml", "practice.sqlite", "2027-02-30", "9999-12-31", "0000-00-00", [], {}, [[]],
    [None],
    ["x"] * 3000, {"a": 1}, {"": ""}, [{"pose": "crucifix"}], [1, 2, 3],
)  # fmt: skip


def bytes_damaged(data: bytes, rng: random.Random) -> bytes:
    """One to six small accidents."""
    for _ in range(rng.choice((1, 1, 1, 1, 2, 5))):
        data = rng.choice(_ACCIDENTS)(data, rng)
    return data


def _place(data: bytes, rng: random.Random) -> int:
    """Anywhere, more often near the head, where the structure is."""
    return rng.randrange(min(len(data), rng.choice((64, 512, len(data) or 1))) or 1)


def _flip(data: bytes, rng: random.Random) -> bytes:
    if not data:
        return b"\0"
    at = _place(data, rng)
    return data[:at] + bytes([data[at] ^ 1 << rng.randrange(8)]) + data[at + 1 :]


def _set(data: bytes, rng: random.Random) -> bytes:
    at, length = _place(data, rng), rng.choice((1, 2, 4, 8))
    fill = rng.choice((b"\0", b"\xff", b"\x7f", b"\x80", bytes([rng.randrange(256)])))
    return data[:at] + fill * length + data[at + length :]


def _cut(data: bytes, rng: random.Random) -> bytes:
    return data[: rng.randrange(len(data) + 1)]


def _behead(data: bytes, rng: random.Random) -> bytes:
    return data[_place(data, rng) :]


def _take_out(data: bytes, rng: random.Random) -> bytes:
    at = _place(data, rng)
    return data[:at] + data[at + rng.choice((1, 4, 40, 400)) :]


def _put_in(data: bytes, rng: random.Random) -> bytes:
    at = _place(data, rng)
    return data[:at] + rng.choice(TOKENS) * rng.choice((1, 1, 1, 3, 200)) + data[at:]


def _noise(data: bytes, rng: random.Random) -> bytes:
    at = _place(data, rng)
    return data[:at] + rng.randbytes(rng.choice((1, 8, 300))) + data[at:]


def _double(data: bytes, rng: random.Random) -> bytes:
    at = _place(data, rng)
    part = data[at : at + rng.choice((16, 400, 4000))]
    return data[:at] + part * rng.choice((2, 2, 50)) + data[at:]


def _swap(data: bytes, rng: random.Random) -> bytes:
    a, b = sorted((_place(data, rng), _place(data, rng)))
    return data[b:] + data[a:b] + data[:a]


_ACCIDENTS: tuple[Callable[[bytes, random.Random], bytes], ...] = (
    *(_flip, _flip, _set, _set, _cut, _behead, _take_out, _put_in, _put_in),
    *(_noise, _double, _swap),
)


def yaml_damaged(data: bytes, rng: random.Random) -> bytes:
    """The same document with some of its values, names or lists made awkward."""
    tree = yaml.safe_load(data)
    for _ in range(rng.choice((1, 1, 1, 2, 4))):
        tree = _tree_damaged(tree, rng)
    text = yaml.safe_dump(
        tree,
        allow_unicode=True,
        sort_keys=False,
        default_flow_style=rng.choice((False, None, True)),
    )
    if rng.random() < 0.1:
        text = rng.choice(_LAYOUTS)(text, rng)
    return text.encode("utf-8", "surrogatepass")


def _places(tree: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    yield path
    items = (
        tree.items()
        if isinstance(tree, dict)
        else enumerate(tree)
        if isinstance(tree, list)
        else ()
    )
    for key, value in items:
        yield from _places(value, (*path, key))


def _tree_damaged(tree: Any, rng: random.Random) -> Any:
    tree = copy.deepcopy(tree)
    places = [path for path in _places(tree) if path]
    if not places:
        return rng.choice(VALUES)
    *way, last = rng.choice(places)
    parent = tree
    for key in way:
        parent = parent[key]
    kind = rng.randrange(8)
    if kind <= 3:
        parent[last] = rng.choice(VALUES)
    elif kind == 4:
        del parent[last]
    elif kind == 5 and isinstance(parent, dict):
        parent[rng.choice(("x", "pose", "hit", "name", "format", "", "a" * 900))] = parent.pop(last)
    elif kind == 6:
        many = [copy.deepcopy(parent[last])] * rng.choice((2, 60, 3000))
        parent[last] = (
            many if not isinstance(parent[last], list) else parent[last] * rng.choice((2, 300))
        )
    else:
        for _ in range(rng.choice((1, 30, 60))):
            parent[last] = {"a": parent[last]} if rng.random() < 0.5 else [parent[last]]
    return tree


def _rows(text: str, rng: random.Random) -> str:
    return text + "extra: |\n" + "  1.000000\t1\n" * rng.choice((10, 30_000))


def _listed(text: str, rng: random.Random) -> str:
    return text + "more:\n" + "- a\n" * rng.choice((100, 200_000))


def _nested(text: str, rng: random.Random) -> str:
    return text + "more: " + rng.choice("[{") * rng.choice((50, 100_000))


def _keyed(text: str, rng: random.Random) -> str:
    return text + "".join(f"k{k}: {k}\n" for k in range(rng.choice((100, 40_000))))


def _anchored(text: str, rng: random.Random) -> str:
    return "a: &a [x, x]\n" + "".join(f"b{k}: &b{k} [*a, *a]\n" for k in range(20)) + text


def _wide(text: str, rng: random.Random) -> str:
    return text + "# " + "x" * rng.choice((1000, 3_000_000))


def _tailed(text: str, rng: random.Random) -> str:
    return text + rng.choice(
        ("...\n", "---\na: 1\n", "\0", "\ufeff", "'", "\t- x\n", "? \n" * 5000)
    )


_LAYOUTS: tuple[Callable[[str, random.Random], str], ...] = (
    *(_rows, _listed, _nested, _keyed, _anchored, _wide, _tailed),
)

"""One case: a folder with one hostile file in it, and what is to be opened there.

A case is its seed and its number; the same two make the same bytes wherever the encoders of sound
and pictures are the same.
"""

from __future__ import annotations

import io
import os
import random
import shutil
import sqlite3
import stat
import struct
import zipfile
import zlib
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from tests.helpers.fuzz import seeds
from tests.helpers.fuzz.mutate import bytes_damaged, yaml_damaged

SECRET = b"a neighbour's words"
#: How often each kind comes up among thirty-six cases.
KINDS = (
    *("routine",) * 5, *("map",) * 3, *("rules",) * 2, *("checks",) * 2, "poses", *("logbook",) * 3,
    *("zip",) * 3, *("song",) * 5, *("picture",) * 3, *("voice",) * 2, "settings", "remarks",
    *("cut",) * 2, "cutmap", "kept", *("film",) * 2,
)  # fmt: skip
PLACES = {
    "routine": "routine.yaml",
    "map": "beats.yaml",
    "rules": "rules/club.yaml",
    "checks": "checks.yaml",
    "remarks": "coach.json",
    "kept": "remarks.yaml",
    "film": f"{seeds.KEPT}/film.mp4",
    "logbook": "practice.sqlite",
    "picture": "pictures/lantern.png",
    "voice": "voice/5.wav",
}
#: The same in a folder whose music is a cut of its song.
CUT_PLACES = {"cut": "routine.yaml", "cutmap": seeds.SONG_MAP}
PICTURES = ("png", "jpeg", "gif", "webp", "bmp")


@dataclass(frozen=True)
class Case:
    """What is to be opened.

    Args:
        number: of the case. kind: one of `KINDS`. how: what was done to the file.
        folder: the routine's folder. path: the hostile file.
        command: whether it is opened through the command line.
    """

    number: int
    kind: str
    how: str
    folder: Path
    path: Path
    command: bool


class Maker:
    """Makes cases in a sandbox: `own/` the routine, `outside/` what must stay as it is.

    Args:
        sandbox: an empty folder.
    """

    def __init__(self, sandbox: Path) -> None:
        self.sandbox, self.sound = sandbox, sandbox / "sound"
        self.cut = sandbox / "cut"
        seeds.make_folder(self.sound)
        seeds.make_cut_folder(self.cut)
        self.whole = {
            **{name: (self.sound / place).read_bytes() for name, place in PLACES.items()},
            **{name: (self.cut / place).read_bytes() for name, place in CUT_PLACES.items()},
            "poses": (Path(__file__).parents[3] / "resources" / "poses.yaml").read_bytes(),
            "settings": seeds.SETTINGS.encode(),
            "zip": seeds.zipped(self.sound),
        }
        for kind in seeds.SONGS:
            self.whole[f"song.{kind}"] = seeds.sound(kind, 1.2)
            self.whole[f"voice.{kind}"] = seeds.sound(kind, 0.3)
        for kind in PICTURES:
            self.whole[f"picture.{kind}"] = seeds.picture(kind)

    def make(self, seed: int, number: int, *, sound: bool = False) -> Case:
        """Lay out case `number`; `sound`: the same with the file as it should be."""
        rng = random.Random(f"{seed}:{number}")
        kind = rng.choice(KINDS)
        folder, outside = self.sandbox / "own", self.sandbox / "outside"
        for old in (folder, outside, self.sandbox / "tmp"):
            shutil.rmtree(old, ignore_errors=True)
        shutil.copytree(self.cut if kind in CUT_PLACES else self.sound, folder)
        (self.sandbox / "tmp").mkdir()
        outside.mkdir()
        (outside / "secret").write_bytes(SECRET)
        (outside / "rules.yaml").write_bytes(b"format: 1\nname: " + SECRET + b"\n")
        path, how = self._lay(kind, rng, folder, sound)
        return Case(number, kind, how, folder, path, rng.random() < 0.12)

    def _lay(self, kind: str, rng: random.Random, folder: Path, sound: bool) -> tuple[Path, str]:
        places = PLACES | CUT_PLACES
        name, path = kind, folder / places.get(kind, f"hostile.{kind}")
        if kind in ("song", "voice"):
            ending = rng.choice(list(seeds.SONGS))
            name, path = (
                f"{kind}.{ending}",
                folder / f"{'voice/5' if kind == 'voice' else 'song'}.{ending}",
            )
            shutil.rmtree(folder / "voice", ignore_errors=True)
            (folder / "voice").mkdir()
        elif kind == "picture":
            name = f"picture.{rng.choice(PICTURES)}"
        whole = self.whole[name]
        if sound:
            return path, _written(path, whole, "sound")
        draw = rng.random()
        if draw < 0.04 and kind not in ("settings", "poses"):
            return path, _trick(path, rng)
        if draw < 0.45:
            structured = _STRUCTURED.get(kind)
            if structured is not None:
                return path, structured(whole, rng, path)
        return path, _written(path, bytes_damaged(whole, rng), "bytes")


def _written(path: Path, data: bytes, how: str) -> str:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(data)
    return how


def _trick(path: Path, rng: random.Random) -> str:
    """Something else than a file under the file's name."""
    how = rng.choice(
        (
            "pipe",
            "endless",
            "link out",
            "loop",
            "dangling",
            "folder",
            "empty",
            "sparse",
            "linked folder",
        )
    )
    path.unlink(missing_ok=True)
    path.parent.mkdir(parents=True, exist_ok=True)
    if how == "pipe":
        os.mkfifo(path)
    elif how == "folder":
        path.mkdir()
    elif how == "empty":
        path.touch()
    elif how == "sparse":
        with path.open("wb") as stream:
            stream.truncate(rng.choice((5_000_000, 3_000_000_000)))
    elif how == "linked folder" and path.parent.name != "own":
        shutil.rmtree(path.parent)
        path.parent.symlink_to("../outside")
    else:
        to = {"endless": "/dev/zero", "loop": path.name, "dangling": "nothing"}
        path.symlink_to(to.get(how, _out(path)))
    return how


def _out(path: Path) -> str:
    up = "../" * (1 if path.parent.name == "own" else 2)
    return f"{up}outside/rules.yaml"


def _yaml(whole: bytes, rng: random.Random, path: Path) -> str:
    return _written(path, yaml_damaged(whole, rng), "structure")


# -- zips -------------------------------------------------------------------------------------

_NAMES = (
    "", ".", "..", "/", "a/../../x", "../outside/x", "/etc/x", "C:/x", "\\\\host\\x",
    "a\\..\\..\\x", "x" * 300,
    "a/" * 600 + "b", "\x1b[2J", "a\nb", "con", "nul.txt", "routine.yaml/x", "a\0b", "é",
    "\u202egpj.exe",
    "Paper Lanterns/routine.yaml", "Paper Lanterns/practice.sqlite", "PAPER LANTERNS/ROUTINE.YAML",
    "Paper Lanterns/pictures", "Paper Lanterns/versions/routine 2026-11-25T100000.000000Z.yaml",
    " ", "...",
)  # fmt: skip


def _zip(whole: bytes, rng: random.Random, path: Path) -> str:
    how = rng.choice(
        ("names", "names", "links", "bomb", "many", "lies", "sizes", "nested", "locked")
    )
    out = io.BytesIO(whole)
    with zipfile.ZipFile(out, "a", zipfile.ZIP_DEFLATED) as archive:
        if how == "bomb":
            archive.writestr(
                "Paper Lanterns/pictures/large.png", bytes(rng.choice((10**6, 5 * 10**7)))
            )
        for number in range(rng.choice((6000, 70_000)) if how == "many" else 0):
            archive.writestr(zipfile.ZipInfo(f"Paper Lanterns/{number}"), b"")
        if how == "nested":
            archive.writestr("Paper Lanterns/more.zip", whole)
        for _ in range(rng.choice((1, 3)) if how in ("names", "links") else 0):
            info = zipfile.ZipInfo("x")
            info.filename = rng.choice(_NAMES) if how == "names" else "Paper Lanterns/link"
            if how == "links":
                kind = rng.choice((stat.S_IFLNK, stat.S_IFIFO, stat.S_IFCHR, stat.S_IFDIR))
                info.external_attr = (kind | 0o777) << 16
            archive.writestr(info, b"../../outside/secret")
    data = bytearray(out.getvalue())
    if how == "locked":
        for mark, offset in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
            for at in _all(data, mark):
                data[at + offset] |= 1
    for mark, first, last in (
        ((b"PK\x01\x02", 8, 46), (b"PK\x05\x06", 4, 22)) if how in ("lies", "sizes") else ()
    ):
        for at in _all(data, mark):
            if rng.random() < 0.5:
                place = at + rng.randrange(first, last - 4)
                data[place : place + 4] = rng.choice((b"\xff" * 4, b"\0" * 4, rng.randbytes(4)))
    return _written(path, bytes(data), f"zip: {how}")


def _all(data: bytearray, mark: bytes) -> list[int]:
    found, at = [], data.find(mark)
    while at >= 0:
        found.append(at)
        at = data.find(mark, at + 4)
    return found


# -- pictures ---------------------------------------------------------------------------------

_SVG = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink">{}</svg>'


def _picture(whole: bytes, rng: random.Random, path: Path) -> str:
    how = rng.choice(("svg", "use", "huge", "bomb", "list", "other"))
    if how == "svg":
        inner = '<image width="9" height="9" xlink:href="../../outside/secret"/>'
        return _written(path, _SVG.format(inner).encode(), how)
    if how == "use":
        uses = "".join(
            f'<g id="a{k}">' + f'<use xlink:href="#a{k - 1}"/>' * 10 + "</g>" for k in range(1, 12)
        )
        return _written(
            path, _SVG.format(f'<g id="a0"><rect width="9" height="9"/></g>{uses}').encode(), how
        )
    if how in ("huge", "bomb"):
        sides = (9000, 7000) if how == "huge" else (7000, 7000)
        width, height = rng.choice(
            (sides, (2**31 - 1, 2**31 - 1), (0, 0), (1, 29_999), (29_999, 1600))
        )
        return _written(path, _png(width, height, full=how == "bomb"), how)
    if how == "list":
        return _written(path, _list(rng), how)
    return _written(path, seeds.sound("wav", 0.2), how)


@lru_cache(maxsize=8)
def _png(width: int, height: int, *, full: bool) -> bytes:
    """A picture of these sides; `full`: with all of its pixels, as many as there may be."""
    rows = bytes(min(width * height * 3 + height, 150_000_000)) if full else b"\0"
    chunks = (
        (b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)),
        (b"IDAT", zlib.compress(rows, 1)),
        (b"IEND", b""),
    )
    packed = (
        struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))
        for name, data in chunks
    )
    return b"\x89PNG\r\n\x1a\n" + b"".join(packed)


# -- sound ------------------------------------------------------------------------------------

#: Files that name others or the network, whatever they are called.
LISTS = (
    b"v=0\no=- 0 0 IN IP4 127.0.0.1\ns=x\nc=IN IP4 224.2.1.1/1\nt=0 0\nm=audio 5004 RTP/AVP 0\n",
    b"#EXTM3U\n#EXT-X-TARGETDURATION:10\n#EXTINF:10,\nhttp://127.0.0.1:9/a.ts\n#EXT-X-ENDLIST\n",
    b"#EXTM3U\n#EXT-X-TARGETDURATION:10\n#EXTINF:10,\n../outside/secret\n#EXT-X-ENDLIST\n",
    b"ffconcat version 1.0\nfile ../outside/secret\nfile 'http://127.0.0.1:9/a.wav'\n",
    b'<?xml version="1.0"?><MPD xmlns="urn:mpeg:dash:schema:mpd:2011"><BaseURL>http://127.0.0.1:9/'
    b"</BaseURL></MPD>",
    b"[playlist]\nFile1=http://127.0.0.1:9/a\n",
    b"RTSP/1.0 200 OK\n", b"http://127.0.0.1:9/a.wav", b"file:///etc/passwd",
    b'<smil><body><audio src="http://127.0.0.1:9/a"/></body></smil>',
)  # fmt: skip


def _list(rng: random.Random) -> bytes:
    return rng.choice(LISTS)


def _sound(whole: bytes, rng: random.Random, path: Path) -> str:
    how = rng.choice(("list", "header", "header", "lies", "other", "tail"))
    if how == "list":
        return _written(path, _list(rng), how)
    if how == "lies":
        return _written(path, _wav(rng), how)
    if how == "other":
        kind = rng.choice(list(seeds.SONGS))
        return _written(
            path, rng.choice((seeds.picture("png"), seeds.sound(kind, 0.2), b"PK\5\6")), how
        )
    if how == "tail":
        return _written(
            path, whole + rng.choice((whole, rng.randbytes(5000), b"TAG" + bytes(125))), how
        )
    data = bytearray(whole)
    for _ in range(rng.choice((1, 2, 4))):
        at = rng.randrange(min(200, len(data) - 8))
        size = rng.choice((2, 4, 8))
        data[at : at + size] = rng.choice(
            (b"\xff" * size, b"\0" * size, b"\x7f" + b"\xff" * (size - 1))
        )
    return _written(path, bytes(data), how)


def _wav(rng: random.Random) -> bytes:
    """A wav with a head that states what no song has."""
    channels = rng.choice((0, 1, 2, 8, 64, 255, 65535))
    rate = rng.choice((0, 1, 7999, 8000, 192_000, 192_001, 2**31, 2**32 - 1))
    bits = rng.choice((0, 1, 8, 16, 24, 32, 64, 65535))
    kind = rng.choice((0, 1, 2, 3, 6, 7, 0x11, 0x55, 0x161, 0xFFFE, 0xFFFF))
    block = max(1, channels * bits // 8) & 0xFFFF
    data = bytes(rng.choice((0, 100, 400_000)))
    size = rng.choice((len(data), 0, 2**32 - 1, 10**9))
    fmt = struct.pack("<HHIIHH", kind, channels, rate, rate * block & 0xFFFFFFFF, block, bits)
    body = b"WAVEfmt " + struct.pack("<I", 16) + fmt + b"data" + struct.pack("<I", size) + data
    return b"RIFF" + struct.pack("<I", len(body)) + body


# -- the logbook ------------------------------------------------------------------------------

_SQL = (
    "UPDATE {t} SET {c} = ?", "UPDATE {t} SET {c} = ?", "UPDATE {t} SET {c} = ?",
    "DROP TABLE {t}", "ALTER TABLE {t} RENAME COLUMN {c} TO other", "DELETE FROM {t}",
    "CREATE TRIGGER evil AFTER INSERT ON {t} BEGIN DELETE FROM {t}; END",
    "CREATE TRIGGER slow AFTER INSERT ON {t} BEGIN SELECT sum(a.value) FROM json_each('[1]') a; "
    "INSERT INTO {t} SELECT * FROM {t}; END",
    "DROP TABLE {t}; CREATE VIEW {t} AS WITH RECURSIVE n(i) AS "
    "(SELECT 1 UNION ALL SELECT i + 1 FROM n) SELECT i AS {c} FROM n",
    "CREATE TABLE more (x); INSERT INTO more SELECT zeroblob(3000000)",
    "PRAGMA user_version = {n}", "PRAGMA application_id = {n}", "PRAGMA journal_mode = DELETE",
    "CREATE INDEX odd ON {t} ({c} COLLATE NOCASE)",
)  # fmt: skip
_CELLS = (
    None, "", "x", -1, 2**62, 1e308, float("inf"), "9" * 400, "x" * 200_000, b"\xff\xfe", b"",
    "nan",
    "0000-00-00", "9999-12-31T23:59:59+00:00", "2026-11-25T18:00:00", "\x1b[2J", "[[[[", "{}",
)  # fmt: skip


def _logbook(whole: bytes, rng: random.Random, path: Path) -> str:
    path.write_bytes(whole)
    if rng.random() < 0.1:
        return _beside(path, rng)
    done = []
    db = sqlite3.connect(path)
    try:
        db.execute("PRAGMA writable_schema = ON")
        tables = [r[0] for r in db.execute("SELECT name FROM sqlite_schema WHERE type = 'table'")]
        for _ in range(rng.choice((1, 1, 2, 3))):
            table = rng.choice([t for t in tables if not t.startswith("sqlite_")])
            columns = [r[1] for r in db.execute(f"PRAGMA table_info({table})")] or ["x"]
            text = rng.choice(_SQL).format(
                t=table, c=rng.choice(columns), n=rng.choice((-1, 0, 99, 2**31 - 1))
            )
            done.append(text[:40])
            try:
                for part in (
                    text.split("; ") if text.startswith(("DROP TABLE", "CREATE TABLE")) else [text]
                ):
                    db.execute(part, (rng.choice(_CELLS),) if "?" in part else ())
                db.commit()
            except sqlite3.Error:
                db.rollback()
    finally:
        db.close()
    return "rows: " + "; ".join(done)


def _beside(path: Path, rng: random.Random) -> str:
    """What SQLite reads beside a database before it looks at the database itself."""
    ending = rng.choice(("-journal", "-wal", "-shm"))
    beside = path.with_name(path.name + ending)
    how = rng.choice(("link", "noise", "names"))
    if how == "link":
        beside.symlink_to("../outside/secret")
    elif how == "noise":
        head = rng.choice((JOURNAL, b"\x37\x7f\x06\x82", b""))
        beside.write_bytes(head + rng.randbytes(rng.choice((20, 600, 9000))))
    else:
        name = str(path.parents[1] / "outside" / "secret").encode()
        db = sqlite3.connect(path)
        db.execute("PRAGMA journal_mode = DELETE")
        db.close()
        path.with_name(path.name + "-journal").write_bytes(journal_naming(name, path))
    return f"beside: {ending} {how}"


#: How a rollback journal and its parts begin and end (SQLite file format, 3).
JOURNAL = bytes.fromhex("d9d505f920a163d7")


def journal_naming(name: bytes, logbook: Path) -> bytes:
    """A journal that names another file, which SQLite would read and then delete."""
    page = 4096
    head = JOURNAL + struct.pack(">IIIII", 0, 0, logbook.stat().st_size // page, 512, page)
    tail = struct.pack(">I", 0x40000000 // page + 1) + name
    return head.ljust(512, b"\0") + tail + struct.pack(">II", len(name), sum(name)) + JOURNAL


# -- settings ---------------------------------------------------------------------------------


def _settings(whole: bytes, rng: random.Random, path: Path) -> str:
    lines = whole.decode().splitlines()
    at = rng.randrange(1, len(lines))
    name = lines[at].partition("=")[0]
    value = rng.choice((
        "", "nan", "inf", "-1", "9" * 400, "x" * 100_000, "@Variant(\\0\\0\\0\\x7f\\xff\\xff)",
        "@ByteArray(\\xff)",
        "@Invalid()", "@Rect(1 2)", "a, b, c", "true", "[]", "{", "\\x0", "@Size(-1 -1)",
        '"[[[["', "1e400",
        "@DateTime(\\0\\0\\0\\x10)", "@Point(9999999999 1)", "../../outside/secret",
    ))  # fmt: skip
    lines[at] = f"{name}={value}"
    return _written(path, "\n".join(lines).encode(), "structure")


_STRUCTURED: dict[str, Callable[[bytes, random.Random, Path], str]] = {
    **dict.fromkeys(("routine", "map", "rules", "checks", "poses", "remarks", "kept"), _yaml),
    **dict.fromkeys(CUT_PLACES, _yaml),
    "zip": _zip,
    "picture": _picture,
    **dict.fromkeys(("song", "voice", "film"), _sound),
    "logbook": _logbook,
    "settings": _settings,
}

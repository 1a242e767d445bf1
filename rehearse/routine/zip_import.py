"""A routine folder that came as a zip, from a coach's phone or mail, unpacked safely.

Nothing leaves the folder it is unpacked to, links are refused, and sizes are counted while
unpacking: what the archive says of itself is not believed. Unpacking reports how far it is and
can be stopped, since a song with films of it takes a while.
"""

from __future__ import annotations

import lzma
import os
import shutil
import stat
import struct
import zipfile
import zlib
from pathlib import Path, PurePosixPath
from typing import BinaryIO

from rehearse.files.atomic import appear, part_folder, sweep, user_error_of
from rehearse.files.door import open_file
from rehearse.files.user_error import UserError, shortened
from rehearse.routine.start import free_name
from rehearse.routine.versions import ROUTINE
from rehearse.words import _
from rehearse.work.progress import Report

#: A song with pictures and versions; more is no routine.
_MAX_BYTES, _MAX_FILES = 1_000_000_000, 5000
_BLOCK = 1 << 20
#: Bytes of the list of files that an archive may have: each entry's head has 46 bytes and a name.
_MAX_LIST = 2_000_000
#: The end of an archive (APPNOTE.TXT 4.3.16): its mark, its length, and the longest comment.
_END, _END_SIZE, _COMMENT = b"PK\x05\x06", 22, 1 << 16
#: What the zip library raises at a damaged, locked or exotic archive.
_DAMAGE = (
    *(zipfile.BadZipFile, zlib.error, lzma.LZMAError, EOFError),
    *(NotImplementedError, RuntimeError, ValueError, IndexError, KeyError, struct.error),
)
#: How the zips made here end, so that a desktop can tell them from any other.
ENDING = "rehearse.zip"
#: What phones and desktops add of their own.
_CLUTTER = ("__MACOSX", ".DS_Store", "Thumbs.db", "desktop.ini")


def bundle_name(path: Path) -> str:
    """What the zip at `path` is called, without its ending."""
    return path.name.removesuffix(f".{ENDING}") if path.name.endswith(ENDING) else path.stem


def open_bundle(path: Path, into: Path, report: Report | None = None) -> Path:
    """Unpack the zip at `path` to a new folder in `into`; the path of the routine folder.

    The folder is called as in the zip, else as the zip; a number is added when it exists. It
    appears whole or not at all.

    Args:
        report: told how far it is; may raise to stop, then nothing is left behind.

    Raises:
        UserError: no zip, damaged, locked with a password, too large, leading out of its folder, or
            without a routine in it.
    """
    try:
        with _opened(path) as stream, zipfile.ZipFile(stream) as archive:
            members = _members(archive, path)
            root = _root(members, path)
            sweep(into)
            scratch = part_folder(into, "unpacking")
            try:
                _unpack(archive, members, root, scratch, path, report)
                target = free_name(into, root.name or bundle_name(path))
                scratch.chmod(0o755)
                appear(scratch, target)
                return target
            finally:
                shutil.rmtree(scratch, ignore_errors=True)
    except _DAMAGE as error:
        locked = isinstance(error, RuntimeError) and "password" in str(error)
        what = _("is locked with a password") if locked else _("is no zip that can be read")
        do = _("ask for one without") if locked else _("have it sent again")
        raise UserError(what, where=path.name, do=do) from error
    except OSError as error:
        raise user_error_of(error, path) from error


def _opened(path: Path) -> BinaryIO:
    """The archive, once its list of files is known to be one that can be read at once."""
    stream = open_file(path, _MAX_BYTES)
    try:
        stream.seek(max(0, os.fstat(stream.fileno()).st_size - _END_SIZE - _COMMENT))
        tail = stream.read()
        at = tail.rfind(_END)
        if at >= 0 and len(tail) >= at + _END_SIZE:
            files, size = struct.unpack_from("<HI", tail, at + 10)
            # All ones: the numbers stand elsewhere (zip64), and are larger than any routine's.
            if files > _MAX_FILES or size > _MAX_LIST:
                raise _too_large(path)
        stream.seek(0)
        return stream
    except BaseException:
        stream.close()
        raise


def _members(archive: zipfile.ZipFile, path: Path) -> dict[PurePosixPath, zipfile.ZipInfo]:
    members: dict[PurePosixPath, zipfile.ZipInfo] = {}
    for info in archive.infolist():
        name = PurePosixPath(info.filename.replace("\\", "/"))
        # `is_dir` looks at the last letter, which an empty name lacks.
        if (info.filename and info.is_dir()) or set(name.parts) & set(_CLUTTER):
            continue
        kind = stat.S_IFMT(info.external_attr >> 16)
        if not name.parts or not _is_name(name):
            raise UserError(
                _(
                    "holds {filename!r}, which is no name of a file",
                    filename=shortened(info.filename, 60),
                ),
                where=path.name,
                do=_("have the folder zipped again"),
            )
        if name.is_absolute() or ".." in name.parts or ":" in name.parts[0]:
            raise UserError(
                _(
                    "holds {filename!r}, which leads out of its folder",
                    filename=shortened(info.filename, 60),
                ),
                where=path.name,
                do=_("do not open it; ask where it comes from"),
            )
        if kind not in (0, stat.S_IFREG):
            raise UserError(
                _(
                    "holds {filename!r}, which is a link and no file",
                    filename=shortened(info.filename, 60),
                ),
                where=path.name,
                do=_("have the folder zipped with the files themselves"),
            )
        members[name] = info
    if len(members) > _MAX_FILES or sum(i.file_size for i in members.values()) > _MAX_BYTES:
        raise _too_large(path)
    return members


def _is_name(name: PurePosixPath) -> bool:
    """Whether the usual file systems take it: parts of 255 bytes, a thousand letters in all."""
    text = name.as_posix()
    short = len(text) < 1000 and all(len(p.encode("utf-8", "replace")) < 256 for p in name.parts)
    return short and text.isprintable()


def _root(members: dict[PurePosixPath, zipfile.ZipInfo], path: Path) -> PurePosixPath:
    """The folder in the zip that holds the routine: the one nearest to its top."""
    found = [name.parent for name in members if name.name == ROUTINE]
    roots = [name for name in found if "versions" not in name.parts]
    if not roots:
        raise UserError(
            _("has no {routine} in it", routine=ROUTINE),
            where=path.name,
            do=_("zip the routine's own folder"),
        )
    return min(roots, key=lambda root: len(root.parts))


def _unpack(
    archive: zipfile.ZipFile,
    members: dict[PurePosixPath, zipfile.ZipInfo],
    root: PurePosixPath,
    target: Path,
    path: Path,
    report: Report | None,
) -> None:
    left, whole = _MAX_BYTES, max(1, sum(info.file_size for info in members.values()))
    for name, info in members.items():
        if not name.is_relative_to(root):
            continue
        file = target.joinpath(*name.relative_to(root).parts)
        file.parent.mkdir(parents=True, exist_ok=True)
        with archive.open(info) as source, file.open("xb") as sink:
            while block := source.read(_BLOCK):
                left -= len(block)
                if left < 0:
                    raise _too_large(path)
                sink.write(block)
                if report is not None:
                    report(min(1.0, (_MAX_BYTES - left) / whole), name.name)


def _too_large(path: Path) -> UserError:
    return UserError(
        _("unpacks to more than a routine can be"), where=path.name, do=_("do not open it")
    )

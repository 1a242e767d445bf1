"""A routine folder that came as a zip, from a coach's phone or mail, unpacked safely.

Nothing leaves the folder it is unpacked to, links are refused, and sizes are counted while
unpacking: what the archive says of itself is not believed.
"""

from __future__ import annotations

import lzma
import shutil
import stat
import tempfile
import zipfile
import zlib
from pathlib import Path, PurePosixPath

from rehearse.files.atomic import fault_of
from rehearse.files.fault import Fault
from rehearse.routine.start import free_name
from rehearse.routine.versions import ROUTINE

#: A song with pictures and versions; more is no routine.
_MAX_BYTES, _MAX_FILES = 1_000_000_000, 5000
_BLOCK = 1 << 20
#: What the zip library raises at a damaged, locked or exotic archive.
_DAMAGE = (
    *(zipfile.BadZipFile, zlib.error, lzma.LZMAError, EOFError),
    *(NotImplementedError, RuntimeError, ValueError),
)
#: What phones and desktops add of their own.
_CLUTTER = ("__MACOSX", ".DS_Store", "Thumbs.db", "desktop.ini")


def open_bundle(path: Path, into: Path) -> Path:
    """Unpack the zip at `path` to a new folder in `into`; the path of the routine folder.

    The folder is called as in the zip, else as the zip; a number is added when it exists. It
    appears whole or not at all.

    Raises:
        Fault: no zip, damaged, locked with a password, too large, leading out of its folder, or
            without a routine in it.
    """
    try:
        with zipfile.ZipFile(path) as archive:
            members = _members(archive, path)
            root = _root(members, path)
            scratch = Path(tempfile.mkdtemp(prefix=".unpacking-", dir=into))
            try:
                _unpack(archive, members, root, scratch, path)
                target = free_name(into, root.name or path.stem)
                scratch.chmod(0o755)
                scratch.rename(target)
                return target
            finally:
                shutil.rmtree(scratch, ignore_errors=True)
    except _DAMAGE as error:
        locked = isinstance(error, RuntimeError) and "password" in str(error)
        what = "is locked with a password" if locked else "is no zip that can be read"
        do = "ask for one without" if locked else "have it sent again"
        raise Fault(what, where=path.name, do=do) from error
    except OSError as error:
        raise fault_of(error, path) from error


def _members(archive: zipfile.ZipFile, path: Path) -> dict[PurePosixPath, zipfile.ZipInfo]:
    members: dict[PurePosixPath, zipfile.ZipInfo] = {}
    for info in archive.infolist():
        name = PurePosixPath(info.filename.replace("\\", "/"))
        if info.is_dir() or set(name.parts) & set(_CLUTTER):
            continue
        kind = stat.S_IFMT(info.external_attr >> 16)
        if name.is_absolute() or ".." in name.parts or ":" in name.parts[0]:
            raise Fault(
                f"holds {info.filename!r}, which leads out of its folder",
                where=path.name,
                do="do not open it; ask where it comes from",
            )
        if kind not in (0, stat.S_IFREG):
            raise Fault(
                f"holds {info.filename!r}, which is a link and no file",
                where=path.name,
                do="have the folder zipped with the files themselves",
            )
        members[name] = info
    if len(members) > _MAX_FILES or sum(i.file_size for i in members.values()) > _MAX_BYTES:
        raise _too_large(path)
    return members


def _root(members: dict[PurePosixPath, zipfile.ZipInfo], path: Path) -> PurePosixPath:
    """The folder in the zip that holds the routine: the one nearest to its top."""
    found = [name.parent for name in members if name.name == ROUTINE]
    roots = [name for name in found if "versions" not in name.parts]
    if not roots:
        raise Fault(f"has no {ROUTINE} in it", where=path.name, do="zip the routine's own folder")
    return min(roots, key=lambda root: len(root.parts))


def _unpack(
    archive: zipfile.ZipFile,
    members: dict[PurePosixPath, zipfile.ZipInfo],
    root: PurePosixPath,
    target: Path,
    path: Path,
) -> None:
    left = _MAX_BYTES
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


def _too_large(path: Path) -> Fault:
    return Fault("unpacks to more than a routine can be", where=path.name, do="do not open it")

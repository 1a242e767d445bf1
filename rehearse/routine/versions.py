"""Earlier saves of a routine: listed, named, restored, and thinned out as they age.

A version is a file in `versions/` called `routine <UTC time> <name>.yaml`, the time being that
of its replacement. Named ones stay for ever. Of the others, which a save every two seconds
makes, all of the last hour stay, then the last of every ten minutes for a day, of every hour
for a week and of every day for ever.
"""

from __future__ import annotations

import hashlib
import os
import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from urllib.parse import unquote

from rehearse.files.atomic import fault_of, save_atomic
from rehearse.files.door import read_file, read_inside
from rehearse.files.fault import Fault
from rehearse.files.yamlfile import MAX_BYTES
from rehearse.music.beatmap import BeatMap

FOLDER = "versions"
ROUTINE, BEATS = "routine.yaml", "beats.yaml"
_STAMP = "%Y-%m-%dT%H%M%S.%fZ"

#: (age from which it holds, one version is kept of every such span)
_THINNING = (
    (timedelta(hours=1), timedelta(minutes=10)),
    (timedelta(days=1), timedelta(hours=1)),
    (timedelta(days=7), timedelta(days=1)),
)
#: Unnamed saves nearer to each other than this are listed as one.
_APART = timedelta(minutes=2)
#: A file name has at most 255 bytes, a letter up to four.
_LONGEST_NAME = 50
#: What no file system takes in a name, and the sign that stands for it.
_UNSAFE = re.compile(r'[%/\\:*?"<>|\x00-\x1f\x7f]')


@dataclass(frozen=True, order=True)
class Version:
    """One earlier save.

    Args:
        replaced: when it stopped being the present file, aware UTC.
        name: what the athlete calls it; empty for one kept by itself.
        path: the file.
    """

    replaced: datetime
    name: str
    path: Path


def list_versions(folder: Path, kind: str = ROUTINE) -> tuple[Version, ...]:
    """The earlier saves of `kind` in a routine's folder, newest first."""
    stem = kind.partition(".")[0] + " "
    try:
        with os.scandir(folder / FOLDER) as entries:
            # Earlier saves are plain files; a link was put there by someone else.
            names = [
                folder / FOLDER / entry.name
                for entry in entries
                if entry.name.startswith(stem) and entry.is_file(follow_symlinks=False)
            ]
    except FileNotFoundError:
        return ()
    except OSError as error:
        raise fault_of(error, folder / FOLDER) from error
    found = (_version_of(path, stem) for path in names)
    return tuple(sorted((v for v in found if v is not None), reverse=True))


def _version_of(path: Path, stem: str) -> Version | None:
    stamp, _, name = path.name.removeprefix(stem).removesuffix(".yaml").partition(" ")
    try:
        # Not strptime: thousands of versions are read after every save.
        time = datetime.fromisoformat(stamp)
    except ValueError:
        return None
    if time.tzinfo is None:
        return None
    return Version(time, unquote(name), path)


def outline(versions: tuple[Version, ...]) -> tuple[Version, ...]:
    """The named saves, and of the others the newest of every two minutes: what fits a list.

    Args:
        versions: newest first.
    """
    shown: list[Version] = []
    last = datetime.max.replace(tzinfo=UTC)
    for version in versions:
        if version.name or last - version.replaced >= _APART:
            shown.append(version)
        if not version.name and last - version.replaced >= _APART:
            last = version.replaced
    return tuple(shown)


def keep_as(folder: Path, name: str, *, now: datetime | None = None) -> Version:
    """Keep the present routine under a name ("after Tuesday"), for ever.

    Raises:
        Fault: the name is empty or longer than 50 characters, or the folder cannot be written.
    """
    when = now or datetime.now(UTC)
    try:
        data = read_inside(folder, ROUTINE, MAX_BYTES)
        (folder / FOLDER).mkdir(exist_ok=True)
    except OSError as error:
        raise fault_of(error, folder) from error
    path = _path(folder, when, name)
    save_atomic(path, data)
    return Version(when, name.strip(), path)


def rename(version: Version, name: str) -> Version:
    """Give an earlier save a name, or another one.

    Raises:
        Fault: the name is empty or longer than 50 characters, or the file cannot be renamed.
    """
    path = _path(version.path.parent.parent, version.replaced, name)
    try:
        version.path.rename(path)
    except OSError as error:
        raise fault_of(error, version.path) from error
    return Version(version.replaced, name.strip(), path)


def _path(folder: Path, when: datetime, name: str) -> Path:
    name = name.strip()
    if not 0 < len(name) <= _LONGEST_NAME:
        raise Fault(
            "a version's name has 1 to 50 characters", do="write a few words: after Tuesday"
        )
    safe = _UNSAFE.sub(lambda match: f"%{ord(match[0]):02X}", name)
    return folder / FOLDER / f"routine {when.strftime(_STAMP)} {safe}.yaml"


def restore(folder: Path, version: Version) -> None:
    """Make an earlier save the present one; the present one becomes an earlier save.

    Raises:
        Fault: it cannot be read, or the folder cannot be written.
    """
    data = read_file(version.path, MAX_BYTES)
    save_atomic(folder / ROUTINE, data, versions=folder / FOLDER)


def thin(folder: Path, kind: str = ROUTINE, *, now: datetime | None = None) -> int:
    """Take out unnamed versions that newer neighbours stand for; how many went."""
    present = now or datetime.now(UTC)
    kept: set[tuple[timedelta, int]] = set()
    gone = 0
    for version in list_versions(folder, kind):
        span = _span(present - version.replaced)
        if version.name or span is None:
            continue
        slot = (span, int(version.replaced.timestamp() // span.total_seconds()))
        if slot in kept:
            version.path.unlink(missing_ok=True)
            gone += 1
        kept.add(slot)
    return gone


def _span(age: timedelta) -> timedelta | None:
    spans = [span for from_age, span in _THINNING if age >= from_age]
    return spans[-1] if spans else None


def fingerprint(beatmap: BeatMap) -> str:
    """A short name, 12 hex digits, for what the counts of a map mean (to the microsecond)."""
    marks = (*beatmap.beats, -1.0, *(s.start for s in beatmap.free), -1.0, *beatmap.restarts)
    digest = hashlib.sha256(" ".join(f"{t:.6f}" for t in marks).encode())
    digest.update(bytes(beatmap.places))
    return digest.hexdigest()[:12]

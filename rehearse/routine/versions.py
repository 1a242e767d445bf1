"""Earlier saves of a routine: listed, named, restored, and thinned out as they age.

A version is a file in `versions/` called `routine <UTC time> <name>.yaml`, the time being that
of its replacement. Named ones stay for ever, and so do those that had stood for hours: what a
copy was made of. Of the others, which a save every two seconds makes, all of the last hour stay,
then the first of every ten minutes for a day, of every hour for a week and of every day for ever.

Which save stands for its span is told by the clock and is always the first, so that a later one
never takes its place in a list; they are thinned when a folder is opened, not while it is open.
Beat maps are few and are not thinned: the counts of an earlier save mean one of them.
"""

from __future__ import annotations

import hashlib
import os
import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from urllib.parse import unquote

from rehearse.files.atomic import save_atomic, user_error_of
from rehearse.files.door import read_file, read_inside
from rehearse.files.user_error import UserError
from rehearse.files.yamlfile import MAX_BYTES
from rehearse.music.beatmap import BeatMap
from rehearse.words import _, day_text

FOLDER = "versions"
ROUTINE, BEATS = "routine.yaml", "beats.yaml"
#: The name of a state that a copy was made of, and how many of them travel with the next copy.
COPIED, _COPIES = "given away as a copy", 20
_STAMP = "%Y-%m-%dT%H%M%S.%fZ"

#: (age from which it holds, one version is kept of every such span)
_THINNING = (
    (timedelta(hours=1), timedelta(minutes=10)),
    (timedelta(days=1), timedelta(hours=1)),
    (timedelta(days=7), timedelta(days=1)),
)
#: Of the unnamed saves of every such span of the clock one is listed; it fits into those above.
_LISTED = timedelta(minutes=2)
#: What stood for so long may have been copied, and is what both copies come from.
_SETTLED = timedelta(hours=3)
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
            # Earlier saves are plain files; a link was put there by someone else. An empty one,
            # which an earlier program left on a full disk, holds no state.
            names = [
                folder / FOLDER / entry.name
                for entry in entries
                if entry.name.startswith(stem)
                and entry.is_file(follow_symlinks=False)
                and _size(entry)
            ]
    except (FileNotFoundError, NotADirectoryError):
        return ()
    except OSError as error:
        raise user_error_of(error, folder / FOLDER) from error
    found = (_version_of(path, stem) for path in names)
    return tuple(sorted((v for v in found if v is not None), reverse=True))


def _size(entry: os.DirEntry[str]) -> int:
    try:
        return entry.stat().st_size
    except OSError:  # gone meanwhile, or a link into nothing
        return 0


def _version_of(path: Path, stem: str) -> Version | None:
    stamp, _unused, name = path.name.removeprefix(stem).removesuffix(".yaml").partition(" ")
    try:
        # Not strptime: thousands of versions are read after every save.
        time = datetime.fromisoformat(stamp)
    except ValueError:
        return None
    if time.tzinfo is None:
        return None
    return Version(time, unquote(name), path)


def when_of(version: Version) -> str:
    """Until when it was the present state, in words: 12 March 2027, 14:03."""
    local = version.replaced.astimezone()
    return f"{day_text(local)}, {local:%H:%M}"


def outline(versions: tuple[Version, ...]) -> tuple[Version, ...]:
    """The named saves, and of the others the first of every two minutes: what fits a list.

    What was listed once is listed again, whatever is saved later.

    Args:
        versions: newest first.
    """
    first = {_slot(v, _LISTED): v for v in versions if not v.name}
    return tuple(v for v in versions if v.name or first[_slot(v, _LISTED)] is v)


def _slot(version: Version, span: timedelta) -> int:
    return int(version.replaced.timestamp() // span.total_seconds())


def keep_as(folder: Path, name: str, *, now: datetime | None = None) -> Version:
    """Keep the present routine under a name ("after Tuesday"), for ever.

    Raises:
        UserError: the name is empty or longer than 50 characters, or the folder cannot be written.
    """
    return keep_data(folder, read_inside(folder, ROUTINE, MAX_BYTES), name, now=now)


def keep_data(folder: Path, data: bytes, name: str, *, now: datetime | None = None) -> Version:
    """Keep another state than the present one under a name, for ever.

    Raises:
        UserError: as `keep_as`.
    """
    when = now or datetime.now(UTC)
    path = _path(folder, when, name)
    try:
        path.parent.mkdir(exist_ok=True)
    except OSError as error:
        raise user_error_of(error, folder) from error
    save_atomic(path, data)
    return Version(when, name.strip(), path)


def keep_copied(folder: Path) -> tuple[Version, ...]:
    """Keep the present routine as the state of a copy that is given away, once.

    Returns:
        All such states, newest first; they travel with the copy, so that what comes back can be
        compared with what both come from.

    Raises:
        UserError: the folder cannot be written.
    """
    data = read_inside(folder, ROUTINE, MAX_BYTES)
    kept = [v for v in list_versions(folder) if v.name == COPIED]
    if not any(read_file(v.path, MAX_BYTES) == data for v in kept):
        kept.insert(0, keep_data(folder, data, COPIED))
    return tuple(kept[:_COPIES])


def rename(version: Version, name: str) -> Version:
    """Give an earlier save a name, or another one.

    Raises:
        UserError: the name is empty or longer than 50 characters, or the file cannot be renamed.
    """
    path = _path(version.path.parent.parent, version.replaced, name)
    try:
        version.path.rename(path)
    except OSError as error:
        raise user_error_of(error, version.path) from error
    return Version(version.replaced, name.strip(), path)


def _path(folder: Path, when: datetime, name: str) -> Path:
    name = name.strip()
    if not 0 < len(name) <= _LONGEST_NAME:
        raise UserError(
            _("a version's name has 1 to 50 characters"), do=_("write a few words: after Tuesday")
        )
    safe = _UNSAFE.sub(lambda match: f"%{ord(match[0]):02X}", name)
    return folder / FOLDER / f"routine {when.strftime(_STAMP)} {safe}.yaml"


def restore(folder: Path, version: Version) -> None:
    """Make an earlier save the present one; the present one becomes an earlier save.

    Raises:
        UserError: it cannot be read, or the folder cannot be written.
    """
    data = read_file(version.path, MAX_BYTES)
    save_atomic(folder / ROUTINE, data, versions=folder / FOLDER)


def thin(folder: Path, *, now: datetime | None = None) -> int:
    """Take out unnamed saves of the routine that earlier neighbours stand for; how many went."""
    present = now or datetime.now(UTC)
    seen: set[tuple[timedelta, int]] = set()
    before = datetime.min.replace(tzinfo=UTC)
    gone = 0
    for version in reversed(list_versions(folder)):
        stood, before = version.replaced - before, version.replaced
        span = _span(present - version.replaced)
        if version.name or span is None:
            continue
        slot = (span, _slot(version, span))
        if slot in seen and stood < _SETTLED:
            version.path.unlink(missing_ok=True)
            gone += 1
        seen.add(slot)
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

"""Names from someone else's machine: they stay in the folder they came in, whatever they are."""

from __future__ import annotations

import re
from pathlib import Path, PurePosixPath, PureWindowsPath

from rehearse.words import _

_FORBIDDEN = re.compile(r'[\\/:*?"<>|\x00-\x1f\x7f]+')
_RESERVED = re.compile(r"^(?:con|prn|aux|nul|com[1-9]|lpt[1-9])$", re.IGNORECASE)
#: Characters, and bytes of their UTF-8: file systems take 255, and some more is put behind.
_LONGEST, _MOST_BYTES = 100, 200


def inside(folder: Path, name: str) -> Path:
    """The path of `name` in `folder`, which need not exist yet.

    Args:
        folder: the folder that must not be left.
        name: relative, with `/` between parts, as written in a routine.

    Raises:
        ValueError: absolute, leading up and out, or through a link that leaves the folder; the
            message says what to write instead.
    """
    pure, foreign = PurePosixPath(name), PureWindowsPath(name)
    if pure.is_absolute() or foreign.drive or foreign.root or "\\" in name or "\0" in name:
        raise ValueError(
            _(
                "{name!r} is a path of one machine; write the file's name in the routine's folder",
                name=name,
            )
        )
    # 255 bytes are what the usual file systems take in a name.
    if any(len(part.encode("utf-8", "replace")) > 255 for part in pure.parts):
        raise ValueError(
            _("{name!r}… is too long for a file's name; write a shorter one", name=name[:40])
        )
    if ".." in pure.parts:
        raise ValueError(
            _(
                "{name!r} leads out of the routine's folder; copy the file in and write its name",
                name=name,
            )
        )
    try:
        real = (folder / name).resolve()
    except (OSError, RuntimeError):  # a loop of links
        real = Path("/")
    if not real.is_relative_to(folder.resolve()):
        raise ValueError(
            _(
                "{name!r} is a link that leads out of the routine's folder; put the "
                "file itself there",
                name=name,
            )
        )
    return folder / name


def safe_name(text: str) -> str:
    """`text` without what file systems refuse, at most 100 characters; may be empty."""
    plain = " ".join(_FORBIDDEN.sub(" ", text).split()).strip(" .-–_")[:_LONGEST]
    plain = plain.encode()[:_MOST_BYTES].decode(errors="ignore").rstrip(" .")
    return f"{plain} file" if _RESERVED.match(plain) else plain

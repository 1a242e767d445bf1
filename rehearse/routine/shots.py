"""Photos and short clips chosen for own poses and moves, made ready in a worker.

A photo is looked at, turned upright and made smaller where it is larger than any screen; a clip
becomes a few pictures of even distance, shown in turn. Both are the athlete's own files or somebody
else's: they are decoded in a process that can be ended (`work.pool`), never in the window's.
"""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rehearse.files.media import Limits, Media, open_media
from rehearse.files.user_error import UserError
from rehearse.routine.photos import ENDINGS, keep_data, read_picture
from rehearse.words import _
from rehearse.work.progress import Report

if TYPE_CHECKING:
    from PIL import Image

#: How clips are called.
CLIPS = (".mp4", ".mov", ".m4v", ".webm", ".mkv", ".avi")
#: Pictures one clip becomes, and photos that one move may have.
MOST = 16
#: A clip: bytes, seconds, and the seconds that reading it may take.
CLIP = Limits(size=1_000_000_000, length=20.0, work=60.0)
#: Pixels of the longer side of what is kept, and of what is looked at in the form.
_LARGE, _SMALL = 2400, 256
#: Pixels of the longer side of a clip's pictures: they are shown for a moment each.
_MOVING = 1080
_QUALITY = 88


@dataclass(frozen=True)
class Shot:
    """One picture that was made ready.

    Args:
        name: of the file it came from. suffix: of the file to be written (".jpg").
        data: that file. preview: a small JPEG of it for the form.
    """

    name: str
    suffix: str
    data: bytes = field(repr=False)
    preview: bytes = field(repr=False)


def make_shots(paths: Sequence[Path], report: Report | None = None) -> tuple[Shot, ...]:
    """Make photos and clips ready, in the order chosen.

    Args:
        report: hears how far it is (0..1) and of which file.

    Raises:
        UserError: a file is no photo or clip, is too large or too long, or there are too many.
    """
    shots: list[Shot] = []
    for number, path in enumerate(paths):
        if report is not None:
            report(number / len(paths), path.name)
        if path.suffix.lower() in CLIPS:
            shots += _of_clip(path)
        else:
            shots.append(_of_photo(path))
    if len(shots) > MOST:
        raise UserError(
            _(
                "{number} pictures were chosen, {most} at most can be shown in turn",
                number=len(shots),
                most=MOST,
            ),
            do=_("choose fewer photos, or one clip"),
        )
    return tuple(shots)


def _of_photo(path: Path) -> Shot:
    from PIL import Image, ImageOps, UnidentifiedImageError

    found = read_picture(path)
    try:
        with Image.open(io.BytesIO(found.data), formats=[found.kind.upper()]) as image:
            upright = ImageOps.exif_transpose(image)
            upright.load()
    except (OSError, ValueError, SyntaxError, UnidentifiedImageError) as error:
        raise UserError(
            _("isn't a readable image"), where=path.name, do=_("choose another photo")
        ) from error
    preview = _jpeg(upright, _SMALL)
    if max(found.width, found.height) <= _LARGE and path.suffix.lower() in ENDINGS:
        return Shot(path.name, path.suffix.lower(), found.data, preview)
    return Shot(path.name, ".jpg", _jpeg(upright, _LARGE), preview)


def _of_clip(path: Path) -> Iterator[Shot]:
    with open_media(path, CLIP) as media:
        if media.picture is None:
            raise UserError(
                _("has no moving pictures"), where=path.name, do=_("choose a clip or a photo")
            )
        frames = _frames(media, path)
    if not frames:
        raise UserError(_("shows no picture"), where=path.name, do=_("choose another clip"))
    for image in frames:
        yield Shot(path.name, ".jpg", _jpeg(image, _MOVING), _jpeg(image, _SMALL))


def _frames(media: Media, path: Path) -> list[Image.Image]:
    """At most `MOST` pictures of even distance: every second one goes when there are too many."""
    kept: list[Any] = []
    every, number, first = 1, 0, None
    for _unused, frames in media.decoded(media.picture):
        for frame in frames:
            time = frame.time if frame.time is not None else number / 30.0
            first = time if first is None else first
            if time - first > CLIP.length:
                raise UserError(
                    _("is longer than {length:.0f} s", length=CLIP.length),
                    where=path.name,
                    do=_("cut out the part that shows the move"),
                )
            if number % every == 0:
                kept.append(_turned(frame))
                if len(kept) > MOST:
                    kept, every = kept[::2], every * 2
            number += 1
    return kept[:MOST]


def _turned(frame: Any) -> Image.Image:
    image = frame.to_image()
    image.thumbnail((_MOVING, _MOVING))
    # Phones write how the film is to be turned beside its pictures.
    turn = int(getattr(frame, "rotation", 0) or 0)
    return image.rotate(turn, expand=True) if turn else image  # type: ignore[no-any-return]


def _jpeg(image: Image.Image, longest: int) -> bytes:
    small = image.convert("RGB")
    small.thumbnail((longest, longest))
    out = io.BytesIO()
    small.save(out, "JPEG", quality=_QUALITY)
    return out.getvalue()


def keep_shots(
    folder: Path, shots: Sequence[Shot], name: str, report: Report | None = None
) -> tuple[str, ...]:
    """Write pictures into the routine's folder, called after the pose or move `name`.

    Returns:
        Their paths in the folder, in the same order; nothing there is written over.

    Raises:
        UserError: the folder cannot be written.
    """
    kept = []
    for number, shot in enumerate(shots):
        if report is not None:
            report(number / len(shots), name)
        kept.append(keep_data(folder, shot.data, name, shot.suffix))
    return tuple(kept)

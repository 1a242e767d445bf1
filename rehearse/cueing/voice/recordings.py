"""Own recordings that stand in for the voice: one file per text in the routine's `voice/` folder.

A file is named after what it says: `front double biceps.m4a`, `5.wav`, `and.wav`; case, spaces
and hyphens make no difference. A pose or move of the program is named as it is stored, in English,
so that its recording is found in every language; one that is named in another language is, too.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Callable, Iterator, Mapping
from datetime import UTC, datetime
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from rehearse.cueing.voice.onset import Utterance, utterance
from rehearse.files.atomic import copy_atomic, user_error_of
from rehearse.files.inside import inside
from rehearse.files.media import VOICE, Media, NoMedia, open_media
from rehearse.files.user_error import UserError
from rehearse.words import _, forms_of, stored_names

FOLDER = "voice"
ENDINGS = (".wav", ".flac", ".mp3", ".m4a", ".aac", ".ogg", ".opus")
#: Recordings that are looked at; a routine says some hundred texts.
MOST_FILES = 2000
_LONGEST = 15.0
#: Samples a second that are kept.
_HIGHEST = 48_000


def plain(text: str) -> str:
    """`text` as recordings are matched: letters and digits in lower case, single spaces."""
    # Some systems keep names with every accent as a character of its own.
    whole = unicodedata.normalize("NFC", text.casefold())
    kept = "".join(c if c.isalnum() else " " for c in whole)
    return " ".join(kept.split())


@lru_cache(maxsize=4000)
def _forms(text: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(map(plain, forms_of(text))))


def recording_of(text: str, found: Mapping[str, Path]) -> Path | None:
    """The recording of a text said here, among those of `find_recordings`; None: there is none.

    One named in the language of the text goes before one that was made in another.
    """
    return next((found[form] for form in _forms(text) if form in found), None)


def file_stem(text: str) -> str:
    """What the file of a new recording is called: the stored name, where there is just one."""
    stored = stored_names(text)
    return plain(stored[0] if len(stored) == 1 else text)


def find_recordings(folder: Path) -> dict[str, Path]:
    """The recordings in `folder` by plain text; empty when there is no such folder.

    What is no ordinary file, or a link that leads out of the routine, is passed over.
    """
    if not folder.is_dir():
        return {}
    names = sorted(p.name for p in folder.iterdir() if p.suffix.casefold() in ENDINGS)
    files = (_own(folder, name) for name in names[:MOST_FILES])
    return {plain(path.stem): path for path in files if path is not None}


def _own(folder: Path, name: str) -> Path | None:
    try:
        path = inside(folder.parent, f"{folder.name}/{name}")
        return path if path.is_file() else None
    except (OSError, ValueError):
        return None


def load_recording(path: Path, text: str) -> Utterance:
    """A recording, mixed to one channel, trimmed and measured as the voice is.

    Raises:
        UserError: unreadable, silent or longer than 15 s.
    """
    samples, rate = _decoded(path)
    if len(samples) > _LONGEST * rate:
        raise UserError(_("is longer than 15 s"), where=path.name, do=_("record only what is said"))
    try:
        return utterance(text, samples, rate)
    except ValueError as error:
        raise UserError(_("is silent"), where=path.name, do=_("record it again, closer")) from error


def check_recording(path: Path, text: str, report: Callable[[float, str], None]) -> Path:
    """`path`, once it was seen to be usable; for a worker process.

    Raises:
        UserError: as `load_recording`.
    """
    load_recording(path, text)
    return path


def take_in(path: Path, text: str, folder: Path, report: Callable[[float, str], None]) -> Path:
    """Copy a sound file into `folder` as the recording of `text`; for a worker process.

    What stood for the text before is kept beside the routine's earlier versions. A process that is
    ended in between leaves one of the two in place, whole.

    Returns:
        The copy.

    Raises:
        UserError: as `load_recording`, or a file cannot be written; nothing is changed then.
    """
    load_recording(path, text)
    earlier = recording_of(text, find_recordings(folder))
    stem = earlier.stem if earlier is not None else file_stem(text)
    target = folder / f"{stem}{path.suffix.lower()}"
    try:
        folder.mkdir(exist_ok=True)
        if earlier is not None:
            copy_atomic(earlier, _aside(earlier))
        copy_atomic(path, target)
        if earlier is not None and earlier != target:
            earlier.unlink()
    except OSError as error:
        raise user_error_of(error, target) from error
    return target


def put_aside(recording: Path) -> None:
    """Move a recording to the routine's earlier versions.

    Raises:
        UserError: it cannot be moved.
    """
    try:
        recording.rename(_aside(recording))
    except OSError as error:
        raise user_error_of(error, recording) from error


def _aside(recording: Path) -> Path:
    stamp = datetime.now(UTC).strftime("%Y-%m-%dT%H%M%S.%fZ")
    versions = recording.parent.parent / "versions"
    versions.mkdir(exist_ok=True)
    return versions / f"{recording.stem} {stamp}{recording.suffix}"


def _decoded(path: Path) -> tuple[npt.NDArray[np.float32], int]:
    """One channel of sound, shape (n,), and its rate; a little more than what is allowed at most.

    A song is read otherwise (`music.decode`): a count is shorter than any song may be.
    """
    import av

    blocks: list[npt.NDArray[np.float32]] = []
    rate, heard, mono = 0, 0.0, None
    do = _("record it again, or delete it")
    try:
        with open_media(path, VOICE) as media:
            for frame in _frames(media):
                if mono is None:
                    # Measuring takes the square of the rate, and a voice has nothing up there.
                    rate = min(frame.sample_rate, _HIGHEST)
                    mono = av.AudioResampler("fltp", "mono", rate)
                blocks += [piece.to_ndarray()[0] for piece in mono.resample(frame)]
                heard += frame.samples / frame.sample_rate
                if heard > _LONGEST:
                    break
            blocks += [piece.to_ndarray()[0] for piece in mono.resample(None)] if mono else []
    except (NoMedia, av.error.FFmpegError, ValueError) as error:
        raise UserError(_("is no recording that can be read"), where=path.name, do=do) from error
    except OSError as error:
        raise user_error_of(error, path) from error
    sound = np.concatenate(blocks) if blocks else np.zeros(0, np.float32)
    # A damaged file of floating point may hold no numbers, or giant ones.
    return np.clip(np.nan_to_num(sound), -64.0, 64.0).astype(np.float32), max(1, rate)


def _frames(media: Media) -> Iterator[Any]:
    if media.sound is None:
        raise ValueError("no sound")
    for _unused, frames in media.decoded(media.sound):
        yield from frames

"""Own recordings that stand in for the voice: one file per text in the routine's `voice/` folder.

A file is named after what it says: `front double biceps.m4a`, `5.wav`, `and.wav`; case, spaces
and hyphens make no difference.
"""

from __future__ import annotations

from pathlib import Path

from rehearse.cueing.voice.onset import Utterance, utterance
from rehearse.files.fault import Fault

FOLDER = "voice"
ENDINGS = (".wav", ".flac", ".mp3", ".m4a", ".aac", ".ogg", ".opus")
_LONGEST = 15.0


def plain(text: str) -> str:
    """`text` as recordings are matched: letters and digits in lower case, single spaces."""
    kept = "".join(c if c.isalnum() else " " for c in text.casefold())
    return " ".join(kept.split())


def find_recordings(folder: Path) -> dict[str, Path]:
    """The recordings in `folder` by plain text; empty when there is no such folder."""
    if not folder.is_dir():
        return {}
    files = sorted(p for p in folder.iterdir() if p.suffix.casefold() in ENDINGS)
    return {plain(p.stem): p for p in files}


def load_recording(path: Path, text: str) -> Utterance:
    """A recording, mixed to one channel, trimmed and measured as the voice is.

    Raises:
        Fault: unreadable, silent or longer than 15 s.
    """
    from rehearse.music.decode import load_track

    track = load_track(path)
    if track.duration > _LONGEST:
        raise Fault("is longer than 15 s", where=path.name, do="record only the pose's name")
    try:
        return utterance(text, track.samples.mean(axis=1), track.sample_rate)
    except ValueError as error:
        raise Fault("is silent", where=path.name, do="record it again, closer") from error

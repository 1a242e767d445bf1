"""Spoken texts kept on disk, named by text, voice and speed; a lost or broken file is made anew."""

from __future__ import annotations

import contextlib
import hashlib
import io
import zipfile
from pathlib import Path

import numpy as np
import platformdirs

from rehearse.cueing.voice.onset import Utterance
from rehearse.files.atomic import save_atomic
from rehearse.files.user_error import UserError

_VERSION = 3  # raise it when rendering, trimming or the onset's measure changes


def default_store() -> Path:
    """The folder for spoken texts on this machine."""
    return Path(platformdirs.user_cache_dir("rehearse", appauthor=False)) / "voice"


def _path(folder: Path, text: str, code: str, speed: int) -> Path:
    name = hashlib.sha256(f"{_VERSION}|{code}|{speed}|{text}".encode()).hexdigest()[:32]
    return folder / f"{name}.npz"


def load(folder: Path, text: str, code: str, speed: int) -> Utterance | None:
    """The kept utterance; None when there is none or it cannot be read."""
    try:
        data = io.BytesIO(_path(folder, text, code, speed).read_bytes())
        with np.load(data, allow_pickle=False) as kept:
            samples = kept["samples"].astype(np.float32)
            rate, onset = int(kept["rate"]), float(kept["onset"])
    except (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile):
        return None
    whole = samples.ndim == 1 and len(samples) > 0 and rate > 0
    return Utterance(text, samples, rate, onset) if whole else None


def keep(folder: Path, spoken: Utterance, code: str, speed: int) -> None:
    """Keep an utterance. A full disk or a read-only folder only costs rendering it again."""
    data = io.BytesIO()
    np.savez(data, samples=spoken.samples, rate=spoken.sample_rate, onset=spoken.onset)
    with contextlib.suppress(OSError, UserError):
        folder.mkdir(parents=True, exist_ok=True)
        save_atomic(_path(folder, spoken.text, code, speed), data.getvalue())

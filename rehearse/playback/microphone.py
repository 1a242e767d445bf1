"""Recording one spoken text: begins by itself when something is said, ends when it is silent.

Runs in a worker process: a microphone that hangs then costs that process and nothing else.
"""

from __future__ import annotations

import contextlib
import io
from collections.abc import Generator, Iterable
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from rehearse.files.atomic import save_atomic, user_error_of
from rehearse.files.user_error import UserError
from rehearse.playback.output import library
from rehearse.words import _
from rehearse.work.progress import Report

Block = npt.NDArray[np.float32]

RATE = 44100
LONGEST = 10.0
_BLOCK = RATE // 50  # 20 ms
#: What is said must be this much louder than the room, and than nothing at all.
_OVER_ROOM, _OVER_NOTHING = 4.0, 0.008
_ROOM = 0.3  # s at the start in which the room is listened to
_SILENCE = 0.8  # s after which what was said is over
_BEFORE, _AFTER = 0.15, 0.25  # s kept around it
_FULL = 0.99


class MicRecording:
    """Listens block by block until something was said and is over."""

    def __init__(self) -> None:
        self.blocks: list[Block] = []
        self._levels: list[float] = []
        self.begun: int | None = None
        self.last = 0

    def hear(self, block: Block) -> bool:
        """Take 20 ms of sound, shape (n,); True once it is over."""
        self.blocks.append(block)
        self._levels.append(float(np.sqrt(np.mean(np.square(block, dtype=np.float64)))))
        room_blocks = round(_ROOM * RATE / _BLOCK)
        if len(self._levels) <= room_blocks:
            return False
        room = float(np.median(self._levels[:room_blocks]))
        if self._levels[-1] > max(_OVER_ROOM * room, _OVER_NOTHING):
            self.last = len(self._levels) - 1
            self.begun = self.last if self.begun is None else self.begun
        silent = (len(self._levels) - 1 - self.last) * _BLOCK / RATE
        return self.begun is not None and silent >= _SILENCE

    @property
    def seconds(self) -> float:
        """Seconds heard so far."""
        return len(self.blocks) * _BLOCK / RATE

    def said(self) -> Block:
        """What was said, with a little of the room around it.

        Raises:
            UserError: nothing was said, or it was too loud.
        """
        if self.begun is None:
            raise UserError(_("nothing was heard"), do=_("come closer and say it again"))
        first = max(0, self.begun * _BLOCK - round(_BEFORE * RATE))
        last = (self.last + 1) * _BLOCK + round(_AFTER * RATE)
        sound = np.concatenate(self.blocks)[first:last]
        if float(np.abs(sound).max()) >= _FULL:
            raise UserError(
                _("the recording is too loud and distorts"), do=_("step back and say it again")
            )
        return sound


def record(
    path: Path,
    versions: Path | None = None,
    report: Report | None = None,
    *,
    blocks: Iterable[Block] | None = None,
) -> Path:
    """Record one text to a wav file; what was there before is kept until it is whole.

    Args:
        path: the file to write; its folder is made when missing.
        versions: folder to keep a replaced recording in.
        report: told how much of the longest time has gone by; may raise to stop.
        blocks: sound to take instead of the microphone's, 20 ms each at 44.1 kHz.

    Raises:
        UserError: no microphone, nothing heard, too loud, or the file cannot be written.
    """
    import soundfile

    recording = MicRecording()
    source = _microphone() if blocks is None else (block for block in blocks)
    with contextlib.closing(source) as heard:
        for block in heard:
            over = recording.hear(block)
            if report:
                words = "listening" if recording.begun is None else "recording"
                report(min(1.0, recording.seconds / LONGEST), words)
            if over or recording.seconds >= LONGEST:
                break
    data = io.BytesIO()
    soundfile.write(data, recording.said(), RATE, "PCM_16", format="WAV")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise user_error_of(error, path.parent) from error
    save_atomic(path, data.getvalue(), versions=versions)
    return path


def _microphone() -> Generator[Block, None, None]:
    sounddevice = library()
    advice = _("plug one in and allow this program to use it")
    try:
        stream: Any = sounddevice.InputStream(
            samplerate=RATE, channels=1, dtype="float32", blocksize=_BLOCK
        )
        stream.start()
    except (sounddevice.PortAudioError, ValueError) as error:
        raise UserError(_("no microphone can be opened"), do=advice) from error
    try:
        while True:
            block, _unused = stream.read(_BLOCK)
            yield np.ascontiguousarray(block[:, 0])
    except sounddevice.PortAudioError as error:
        raise UserError(_("the microphone went away"), do=advice) from error
    finally:
        stream.abort()
        stream.close()

"""The speech library through ctypes, used in this process.

It is not thread-safe, so one lock spans choosing a voice and rendering. That is enough here:
a cue takes 0.3–2 ms on one core, ctypes lets go of the interpreter lock for it, and every text
is rendered once and then read from disk. Asked not to, the library never ends the process.

While it speaks it tells when each of its sounds begins; kept of that is where the first stressed
vowel does, which is where a word is heard to begin (see `onset`).
"""

from __future__ import annotations

import ctypes
import os
import sys
import threading
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from rehearse.files.user_error import UserError
from rehearse.words import _

_SYNCHRONOUS = 2  # AUDIO_OUTPUT_SYNCHRONOUS
_PHONEME_EVENTS, _DO_NOT_EXIT = 0x0001, 0x8000  # espeakINITIALIZE_PHONEME_EVENTS, …_DONT_EXIT
_UTF8, _RATE = 1, 1  # espeakCHARS_UTF8, espeakRATE
_END, _PHONEME = 0, 7  # espeakEVENT_LIST_TERMINATED, espeakEVENT_PHONEME
_STRESSED = b"'"  # how the library's name of a vowel with the main stress begins
#: How its names of sounds between consonant and vowel begin: l, r, w, j.
_GLIDES = tuple(bytes([c]) for c in b"lrRwj")
_CLICKS = _("the cues go on with clicks; reinstall the program to get the voice back")


class _Event(ctypes.Structure):
    """espeak_EVENT of speak_lib.h; `name` is its union, read as the name of a sound."""

    _fields_ = (
        ("type", ctypes.c_int),
        ("message", ctypes.c_uint),
        ("text_position", ctypes.c_int),
        ("length", ctypes.c_int),
        ("milliseconds", ctypes.c_int),
        ("sample", ctypes.c_int),
        ("user_data", ctypes.c_void_p),
        ("name", ctypes.c_char * 8),
    )


_Callback = ctypes.CFUNCTYPE(
    ctypes.c_int, ctypes.POINTER(ctypes.c_short), ctypes.c_int, ctypes.POINTER(_Event)
)


def _as_given(path: str) -> bytes:
    """A path as the library's C code opens it: on Windows in the system's old code page."""
    return path.encode("mbcs", "replace") if sys.platform == "win32" else os.fsencode(path)


@dataclass(frozen=True, eq=False)
class Rendering:
    """What the library said.

    Args:
        samples: shape (n,), full scale ±1.
        sample_rate: of the samples.
        stress: seconds between which the stressed syllable is heard to begin: the start of the
            glide before its vowel (without one, the vowel's) and the vowel's; None unknown.
    """

    samples: npt.NDArray[np.float32]
    sample_rate: int
    stress: tuple[float, float] | None = None


class Espeak:
    """The speech library, loaded once for the process.

    Raises:
        UserError: the library or its voices are missing or broken.
    """

    def __init__(self, library: str = "", data: str = "") -> None:
        self._blocks: list[npt.NDArray[np.int16]] = []
        self._phonemes: list[tuple[float, bytes]] = []
        self._library = _load(library)
        self._callback = _Callback(self._take)
        try:
            path = data or _packaged("get_data_path")
            # Asked to start without its data, the library ends the process or answers as if well.
            if not (Path(path) / "phontab").is_file():
                raise UserError(_("the voice's data cannot be read"), do=_CLICKS)
            options = _PHONEME_EVENTS | _DO_NOT_EXIT
            rate = self._library.espeak_Initialize(_SYNCHRONOUS, 0, _as_given(path), options)
        except (AttributeError, RuntimeError) as error:
            raise UserError(_("the voice cannot be loaded"), do=_CLICKS) from error
        if rate <= 0:
            raise UserError(_("the voice's data cannot be read"), do=_CLICKS)
        self.sample_rate = int(rate)
        self._library.espeak_SetSynthCallback(self._callback)

    def _take(self, samples: Any, count: int, events: Any) -> int:
        if samples and count > 0:
            self._blocks.append(np.ctypeslib.as_array(samples, (count,)).copy())
        k = 0
        while events and events[k].type != _END:
            if events[k].type == _PHONEME:
                self._phonemes.append((events[k].milliseconds / 1000, events[k].name))
            k += 1
        return 0

    def render(self, text: str, code: str, words_a_minute: int) -> Rendering:
        """`text` as sound.

        Raises:
            UserError: the library has no voice `code` or refuses the text.
        """
        raw = text.encode()
        if self._library.espeak_SetVoiceByName(code.encode()) != 0:
            raise UserError(
                _("the voice {code!r} is not installed", code=code), do=_("choose another voice")
            )
        self._library.espeak_SetParameter(_RATE, words_a_minute, 0)
        self._blocks.clear()
        self._phonemes.clear()
        status = self._library.espeak_Synth(raw, len(raw) + 1, 0, 1, 0, _UTF8, None, None)
        self._library.espeak_Synchronize()
        if status != 0 or not self._blocks:
            raise UserError(
                _("the voice says nothing"), where=text, do=_("set a short form for it")
            )
        samples = np.concatenate(self._blocks).astype(np.float32) / 32768.0
        return Rendering(samples, self.sample_rate, _stress(self._phonemes))


def _stress(phonemes: list[tuple[float, bytes]]) -> tuple[float, float] | None:
    stressed = (k for k, (_unused, name) in enumerate(phonemes) if name.startswith(_STRESSED))
    vowel = next(stressed, None)
    if vowel is None:
        return None
    first = vowel
    while first > 0 and phonemes[first - 1][1].startswith(_GLIDES):
        first -= 1
    return phonemes[first][0], phonemes[vowel][0]


def _packaged(function: str) -> str:
    import espeakng_loader

    return str(getattr(espeakng_loader, function)())


def _load(library: str) -> ctypes.CDLL:
    try:
        return ctypes.CDLL(library or _packaged("get_library_path"))
    except (ImportError, OSError) as error:
        raise UserError(_("the voice cannot be loaded"), do=_CLICKS) from error


_lock = threading.Lock()
_loaded: list[Espeak] = []


def render(text: str, code: str, words_a_minute: int) -> Rendering:
    """Render `text` from any thread.

    Raises:
        UserError: see `Espeak`.
    """
    with _lock:
        if not _loaded:
            _loaded.append(Espeak())
        return _loaded[0].render(text, code, words_a_minute)

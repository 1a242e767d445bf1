"""The speech library through ctypes, used in this process.

It is not thread-safe, so one lock spans choosing a voice and rendering. That is enough here:
a cue takes 0.3–2 ms on one core, ctypes lets go of the interpreter lock for it, and every text
is rendered once and then read from disk. Asked not to, the library never ends the process.
"""

from __future__ import annotations

import ctypes
import threading
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from rehearse.files.fault import Fault

_SYNCHRONOUS, _DO_NOT_EXIT = 2, 0x8000  # AUDIO_OUTPUT_SYNCHRONOUS, espeakINITIALIZE_DONT_EXIT
_UTF8, _RATE = 1, 1  # espeakCHARS_UTF8, espeakRATE
_CLICKS = "the cues go on with clicks; reinstall the program to get the voice back"

_Callback = ctypes.CFUNCTYPE(
    ctypes.c_int, ctypes.POINTER(ctypes.c_short), ctypes.c_int, ctypes.c_void_p
)


class Espeak:
    """The speech library, loaded once for the process.

    Raises:
        Fault: the library or its voices are missing or broken.
    """

    def __init__(self, library: str = "", data: str = "") -> None:
        self._blocks: list[npt.NDArray[np.int16]] = []
        self._library = _load(library)
        self._callback = _Callback(self._take)
        try:
            path = data or _packaged("get_data_path")
            # Asked to start without its data, the library ends the process or answers as if well.
            if not (Path(path) / "phontab").is_file():
                raise Fault("the voice's data cannot be read", do=_CLICKS)
            rate = self._library.espeak_Initialize(_SYNCHRONOUS, 0, path.encode(), _DO_NOT_EXIT)
        except (AttributeError, RuntimeError) as error:
            raise Fault("the voice cannot be loaded", do=_CLICKS) from error
        if rate <= 0:
            raise Fault("the voice's data cannot be read", do=_CLICKS)
        self.sample_rate = int(rate)
        self._library.espeak_SetSynthCallback(self._callback)

    def _take(self, samples: Any, count: int, _events: Any) -> int:
        if samples and count > 0:
            self._blocks.append(np.ctypeslib.as_array(samples, (count,)).copy())
        return 0

    def render(self, text: str, code: str, words_a_minute: int) -> npt.NDArray[np.float32]:
        """`text` as sound: shape (n,), full scale ±1, at `sample_rate`.

        Raises:
            Fault: the library has no voice `code` or refuses the text.
        """
        raw = text.encode()
        if self._library.espeak_SetVoiceByName(code.encode()) != 0:
            raise Fault(f"the voice {code!r} is not installed", do="choose another voice")
        self._library.espeak_SetParameter(_RATE, words_a_minute, 0)
        self._blocks.clear()
        status = self._library.espeak_Synth(raw, len(raw) + 1, 0, 1, 0, _UTF8, None, None)
        self._library.espeak_Synchronize()
        if status != 0 or not self._blocks:
            raise Fault("the voice says nothing", where=text, do="set a short form for it")
        return np.concatenate(self._blocks).astype(np.float32) / 32768.0


def _packaged(function: str) -> str:
    import espeakng_loader

    return str(getattr(espeakng_loader, function)())


def _load(library: str) -> ctypes.CDLL:
    try:
        return ctypes.CDLL(library or _packaged("get_library_path"))
    except (ImportError, OSError) as error:
        raise Fault("the voice cannot be loaded", do=_CLICKS) from error


_lock = threading.Lock()
_loaded: list[Espeak] = []


def render(text: str, code: str, words_a_minute: int) -> tuple[npt.NDArray[np.float32], int]:
    """Render `text` from any thread: samples of shape (n,) and their rate.

    Raises:
        Fault: see `Espeak`.
    """
    with _lock:
        if not _loaded:
            _loaded.append(Espeak())
        return _loaded[0].render(text, code, words_a_minute), _loaded[0].sample_rate

"""The voice as a process says it that has said nothing before.

The speech library draws its hiss by chance and carries on from text to text, so that what it says
depends on all it has said: a measure held against it fails now and then, and another test's texts
move it. Here a process loads the library and, for each text, a copy of it made by `fork` says
that text and ends: each text sounds the same in every run and order.
"""

from __future__ import annotations

import functools
import os
import pickle
import subprocess
import sys
import threading
from pathlib import Path

from rehearse.cueing.voice import espeak
from rehearse.cueing.voice.espeak import Rendering
from rehearse.files.user_error import UserError

ROOT = Path(__file__).resolve().parents[2]
#: The program's own, for tests of what happens where the library is missing.
OWN = espeak.render


class SteadyVoice:
    """Renders like `espeak.render`, each text once."""

    def __init__(self) -> None:
        self._child = subprocess.Popen(
            [sys.executable, "-m", "tests.helpers.steady_voice"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            cwd=ROOT,
        )
        self._lock = threading.Lock()
        self.render = functools.lru_cache(maxsize=None)(self._render)

    def _render(self, text: str, code: str, words_a_minute: int) -> Rendering:
        with self._lock:
            pickle.dump((text, code, words_a_minute), self._child.stdin)
            self._child.stdin.flush()
            said = pickle.load(self._child.stdout)
        if isinstance(said, UserError):
            raise said
        return said

    def close(self) -> None:
        """End the process."""
        self._child.stdin.close()
        self._child.wait(10)
        self._child.stdout.close()


def _said(library: espeak.Espeak, request: tuple[str, str, int]) -> Rendering | UserError:
    try:
        return library.render(*request)
    except UserError as error:
        return error


def _in_a_copy(library: espeak.Espeak, request: tuple[str, str, int]) -> bytes:
    """The answer to a request, pickled, by a copy of this process."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        with os.fdopen(writing, "wb") as stream:
            pickle.dump(_said(library, request), stream)
        os._exit(0)
    os.close(writing)
    with os.fdopen(reading, "rb") as stream:
        answer = stream.read()
    os.waitpid(child, 0)
    return answer


def main() -> None:
    library = espeak.Espeak()
    while True:
        try:
            request = pickle.load(sys.stdin.buffer)
        except EOFError:
            return
        sys.stdout.buffer.write(_in_a_copy(library, request))
        sys.stdout.buffer.flush()


if __name__ == "__main__":
    main()

"""What makes imports quick while the window starts; `ui/startup.py` tells the rest.

The window's process makes some sixty data classes before its first picture. For each the standard
library writes the text of up to six methods and compiles it, which takes longer than loading all
modules. The same text gives the same code: it is kept beside the byte code of this module and
looked up by the whole text, so that a changed class, or another Python, is compiled as ever.
"""

from __future__ import annotations

import dataclasses
import gc
import marshal
import sys
from types import CodeType
from typing import Any

from rehearse.files.compiled import kept_place, write_kept

_NAME = "exec"  # what `dataclasses` calls with the text of a method


class _MethodCode:
    """Stands in for `exec` in the module `dataclasses`."""

    def __init__(self) -> None:
        self._codes: dict[str, CodeType] = {}
        self._has_new = False
        try:
            kept = marshal.loads(kept_place(__file__).read_bytes())
        except (OSError, EOFError, ValueError, TypeError):
            kept = None
        if isinstance(kept, dict):
            self._codes = kept

    def __call__(self, text: str, *namespaces: Any) -> None:
        code = self._codes.get(text)
        if code is None:
            code = self._codes[text] = compile(text, "<string>", "exec")
            self._has_new = True
        exec(code, *namespaces)

    def keep(self) -> None:
        """Keep what is new for the next start."""
        if self._has_new and not sys.dont_write_bytecode:
            write_kept(kept_place(__file__), marshal.dumps(self._codes))
        self._has_new = False


def begin() -> None:
    """Before the window's modules are imported; `end` once it is up."""
    gc.disable()  # nothing is thrown away before the window is up
    if not hasattr(dataclasses, _NAME):
        setattr(dataclasses, _NAME, _MethodCode())


def end() -> None:
    """The window is up: data classes are made as ever."""
    stands_in = dataclasses.__dict__.get(_NAME)
    if isinstance(stands_in, _MethodCode):
        delattr(dataclasses, _NAME)
        stands_in.keep()

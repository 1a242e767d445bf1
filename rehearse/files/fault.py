"""The one exception the user ever reads: what is wrong, where, and what to do."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import Any


class Fault(Exception):
    """Something the user can put right, in plain words.

    Args:
        what: what is wrong, a clause that starts a sentence ("the track is silent").
        where: file, line, pose or device it concerns; may be empty.
        do: what to do about it, in the imperative ("choose another song"); may be empty.
    """

    def __init__(self, what: str, *, where: str | Path = "", do: str = "") -> None:
        self.what, self.where, self.do = what, str(where), do
        super().__init__(self.sentence)

    def __reduce__(self) -> tuple[Any, ...]:
        """Faults cross from worker processes, which an exception's own pickling would garble."""
        return partial(type(self), where=self.where, do=self.do), (self.what,)

    @property
    def sentence(self) -> str:
        """`where: what – do.` as one sentence, ready for the screen."""
        head = f"{self.where}: {self.what}" if self.where else self.what[:1].upper() + self.what[1:]
        return f"{head} – {self.do}." if self.do else f"{head}."


class Faults(Fault):
    """Several faults found in one go, so that all can be mended at once."""

    def __init__(self, faults: Sequence[Fault]) -> None:
        if not faults:
            raise ValueError("Faults needs at least one fault")
        self.faults = tuple(faults)
        first = self.faults[0]
        super().__init__(first.what, where=first.where, do=first.do)

    def __reduce__(self) -> tuple[Any, ...]:
        return type(self), (self.faults,)

    @property
    def sentence(self) -> str:
        """All sentences, one a line."""
        return "\n".join(f.sentence for f in self.faults)

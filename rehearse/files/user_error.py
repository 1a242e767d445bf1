"""The one exception the user ever reads: what is wrong, where, and what to do."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import Any

from rehearse.words import _

#: Characters that a part of a sentence has at most; what a file holds may be quoted in it.
LONGEST_PART = 240
#: Faults of one file that are listed; nobody mends more before trying again.
MOST_FAULTS = 40


class UserError(Exception):
    """Something the user can put right, in plain words.

    Args:
        what: what is wrong, a clause that starts a sentence ("the track is silent").
        where: file, line, pose or device it concerns; may be empty.
        do: what to do about it, in the imperative ("choose another song"); may be empty.
    """

    def __init__(self, what: str, *, where: str | Path = "", do: str = "") -> None:
        self.what, self.where, self.do = shortened(what), shortened(str(where)), shortened(do)
        super().__init__(self.sentence)

    def __reduce__(self) -> tuple[Any, ...]:
        """Faults cross from worker processes, which an exception's own pickling would garble."""
        return partial(type(self), where=self.where, do=self.do), (self.what,)

    @property
    def sentence(self) -> str:
        """`where: what – do.` as one sentence, ready for the screen."""
        head = f"{self.where}: {self.what}" if self.where else self.what[:1].upper() + self.what[1:]
        return f"{head} – {self.do}." if self.do else f"{head}."


class UserErrors(UserError):
    """Several faults found in one go, so that all can be mended at once.

    Of more than `MOST_FAULTS` only the first are kept, and the last sentence says so.
    """

    def __init__(self, errors: Sequence[UserError]) -> None:
        if not errors:
            raise ValueError("UserErrors needs at least one error")
        kept = list(errors[:MOST_FAULTS])
        if len(errors) > MOST_FAULTS:
            kept.append(UserError(_("there are more faults than these"), do=_("mend these first")))
        self.errors = tuple(kept)
        first = self.errors[0]
        super().__init__(first.what, where=first.where, do=first.do)

    def __reduce__(self) -> tuple[Any, ...]:
        return _revived, (self.errors,)

    @property
    def sentence(self) -> str:
        """All sentences, one a line."""
        return "\n".join(f.sentence for f in self.errors)


class UserErrorList(list[UserError]):
    """Faults while they are being found: gives up once there are more than can be listed."""

    def append(self, error: UserError) -> None:
        """Note a fault.

        Raises:
            UserErrors: all so far, when they are one more than are listed.
        """
        super().append(error)
        if len(self) > MOST_FAULTS:
            raise UserErrors(self)


def shortened(text: str, most: int = LONGEST_PART) -> str:
    """`text` in at most `most` characters, its middle left out: both ends tell what it is."""
    if len(text) <= most:
        return text
    return f"{text[: most // 2]}…{text[-(most - most // 2 - 1) :]}"


def halves(error: ValueError) -> tuple[str, str]:
    """What is wrong and what to do, from a `ValueError` worded "what is wrong; what to do".

    The parts are taken at the last semicolon: the first may quote one from the file.
    """
    what, _unused, do = str(error).rpartition("; ")
    return (what, do) if what else (do, "")


def _revived(errors: tuple[UserError, ...]) -> UserErrors:
    # Already cut to length, and the last of them may say that there are more.
    revived = UserErrors(errors[:1])
    revived.errors = errors
    return revived

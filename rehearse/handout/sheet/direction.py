"""Text read from the right (Arabic, Hebrew) brought into the order in which it is printed.

The PDF library prints characters one after another from the left and joins no letters. Done here
is what names and notes need of Unicode's rules (UAX 9, and the joining of Arabic letters by their
presentation forms, from the character database): runs of one direction, numbers inside them,
marks between them. Nested directions are not.
"""

from __future__ import annotations

import itertools
import unicodedata
from functools import lru_cache

_FROM_RIGHT = {"R", "AL"}
_FROM_LEFT = {"L", "EN", "AN"}
_FORMS = ("isolated", "final", "initial", "medial")
_MIRRORED = str.maketrans("()[]{}<>«»", ")(][}{><»«")


def printed(text: str) -> str:
    """`text` in the order of print; text read from the left comes back as it is."""
    if not any(unicodedata.bidirectional(c) in _FROM_RIGHT for c in text):
        return text
    marked = list(zip(_joined(text), _directions(text), strict=True))
    runs = [
        (right, [character for character, _ in run])
        for right, run in itertools.groupby(marked, key=lambda pair: pair[1])
    ]
    if _base(text):
        runs.reverse()
    return "".join("".join(_turned(run)) if right else "".join(run) for right, run in runs)


def _turned(run: list[str]) -> list[str]:
    """From the right; a mark comes before its letter, as the faces of these alphabets expect."""
    letters: list[str] = []
    for character in run:
        if unicodedata.combining(character[:1] or " ") and letters:
            letters[-1] = character + letters[-1]
        else:
            letters.append(character.translate(_MIRRORED))
    return letters[::-1]


def _base(text: str) -> bool:
    """Whether the line as a whole is read from the right: as its first letter is."""
    strong = (unicodedata.bidirectional(c) for c in text)
    return next((kind in _FROM_RIGHT for kind in strong if kind in {*_FROM_RIGHT, "L"}), False)


def _directions(text: str) -> list[bool]:
    """For each character whether it is read from the right; what is neither goes with both sides
    when they agree, else with the line, and a closing bracket with its opening one.
    """
    kinds = [unicodedata.bidirectional(c) for c in text]
    known = [k in _FROM_RIGHT if k in _FROM_RIGHT | _FROM_LEFT else None for k in kinds]
    base = _base(text)
    result: list[bool] = []
    opened: list[int] = []
    for k, here in enumerate(known):
        if text[k] in "([{":
            opened.append(k)
        if here is not None or (text[k] in ")]}" and opened):
            result.append(here if here is not None else result[opened.pop()])
            continue
        before = result[-1] if result else base
        after = next((v for v in known[k:] if v is not None), base)
        result.append(before if before == after else base)
    return result


@lru_cache(maxsize=1)
def _shapes() -> dict[str, dict[str, str]]:
    """For each Arabic letter its forms by where it stands in a word."""
    found: dict[str, dict[str, str]] = {}
    for code in range(0xFE80, 0xFEFD):
        kind, *letters = unicodedata.decomposition(chr(code)).split()
        if len(letters) == 1:
            found.setdefault(chr(int(letters[0], 16)), {})[kind.strip("<>")] = chr(code)
    return found


def _joined(text: str) -> list[str]:
    """The characters with Arabic letters in the form they have beside their neighbours."""
    shapes = _shapes()
    letters = [k for k, c in enumerate(text) if not unicodedata.combining(c)]
    result = list(text)
    for place, k in enumerate(letters):
        forms = shapes.get(text[k])
        if not forms:
            continue
        before = text[letters[place - 1]] if place else ""
        after = text[letters[place + 1]] if place + 1 < len(letters) else ""
        from_before = "initial" in shapes.get(before, {}) and "final" in forms
        to_after = "initial" in forms and "final" in shapes.get(after, {})
        form = _FORMS[from_before + 2 * to_after]
        result[k] = forms.get(form, text[k])
    return result

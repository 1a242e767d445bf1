"""The lists of keys, on the screen and in the README, made from the table of actions.

`python -m rehearse.ui.key_list` prints the README's.
"""

from __future__ import annotations

from collections.abc import Callable

from rehearse.ui.actions import (
    CLICKER_TABLE,
    CUT,
    FILM,
    KEYS,
    OWN_VOICE,
    PAGES,
    STOP,
    WINDOW,
    Action,
    clicker_words,
    key,
    low,
    on_page,
    printed,
)


def key_rows(
    page: str, keys_of: Callable[[Action], tuple[str, ...]] | None = None
) -> list[tuple[str, str]]:
    """Keys and words of a page for a list; `keys_of` knows those that were assigned."""
    return [(_shown(a.keys if keys_of is None else keys_of(a)), a.words) for a in on_page(page)]


def general_rows() -> list[tuple[str, str]]:
    """Keys and words of what works on every page, the emergency stop first."""
    held = f"{key('clicker_back')} held"
    rows = [(f"{_shown(STOP.keys)} or {held}", STOP.words)]
    return rows + [(_shown(a.keys), a.words) for a in (KEYS, *WINDOW)]


def _shown(keys: tuple[str, ...]) -> str:
    """The keys worth telling: those that do the same on another keyboard go without saying."""
    silent = ("Enter", "=", "Backspace", "Shift+Backspace")
    return " or ".join(printed(k) for k in keys if k not in silent or k == keys[0])


def key_list() -> str:
    """The README's list of keys, in Markdown."""
    parts = [("Everywhere", general_rows()), *((page, key_rows(page)) for page in PAGES)]
    parts += [(place, key_rows(place)) for place in (CUT, OWN_VOICE, FILM)]
    lines = [
        f"**{title}.** " + " · ".join(f"**{keys}** {low(words)}" for keys, words in rows)
        for title, rows in parts
    ]
    states = "; ".join(f"{s}: {' – '.join(clicker_words(s))}" for s in CLICKER_TABLE)
    forward, back = key("clicker_on"), key("clicker_back")
    lines.append(f"**Clicker.** {forward} – {back}, when {states}; {back} held: stop everything")
    return "\n\n".join(lines)


if __name__ == "__main__":
    print(key_list())

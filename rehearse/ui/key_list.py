"""The lists of keys, on the screen and in the README, and of the clicker's buttons.

Made from the table of actions; `python -m rehearse.ui.key_list` prints the README's.
"""

from __future__ import annotations

from collections.abc import Callable

from rehearse.ui.actions import (
    CUT,
    FILM,
    KEYS,
    OWN_VOICE,
    PAGES,
    STOP,
    WALKING,
    WINDOW,
    Action,
    key,
    named,
    on_page,
    printed,
)
from rehearse.words import _, low, shown

#: What the clicker's two buttons do by what is going on, so that a whole drill runs on them:
#: forward, back. Where a run asks "where did you lose it?", forward answers and back points.
CLICKER_TABLE = {
    "nothing plays": ("begin", "back"),
    "a judged drill plays": ("clean", "missed"),
    "anything else plays": ("next", "stop"),
}


def clicker_words(state: str) -> tuple[str, str]:
    """What the clicker's two buttons do in one state, in a word or two each."""
    forward, back = CLICKER_TABLE[state]
    return low(named(forward).words.split(",")[0]), low(named(back).words)


def key_rows(
    page: str, keys_of: Callable[[Action], tuple[str, ...]] | None = None
) -> list[tuple[str, str]]:
    """Keys and words of a page for a list; `keys_of` knows those that were assigned."""
    return [(_shown(a.keys if keys_of is None else keys_of(a)), a.words) for a in on_page(page)]


def general_rows() -> list[tuple[str, str]]:
    """Keys and words of what works on every page, the emergency stop first."""
    held = _("{key_clicker_back} held", key_clicker_back=key("clicker_back"))
    rows = [(_("{keys} or {held}", keys=_shown(STOP.keys), held=held), STOP.words)]
    return rows + [(_shown(a.keys), a.words) for a in (KEYS, *WINDOW, *WALKING)]


def _shown(keys: tuple[str, ...]) -> str:
    """The keys worth telling: those that do the same on another keyboard go without saying."""
    silent = ("Enter", "=", "Backspace", "Shift+Backspace")
    told = [printed(k) for k in keys if k not in silent or k == keys[0]]
    return f" {_('or')} ".join(told)


_KeysOf = Callable[[Action], tuple[str, ...]]


def key_groups(keys_of: _KeysOf | None = None) -> list[tuple[str, list[tuple[str, str]]]]:
    """Every list of keys by the place where it works, for paper; `keys_of` as in `key_rows`."""
    parts = [(_("Everywhere"), general_rows())]
    return parts + [(place, key_rows(place, keys_of)) for place in (*PAGES, CUT, OWN_VOICE, FILM)]


def clicker_rows() -> list[tuple[str, str]]:
    """What the clicker's two buttons do, by what is going on."""
    both = f"{key('clicker_on')}, {key('clicker_back')}"
    rows = [(both, f"{shown(s)}: {', '.join(clicker_words(s))}") for s in CLICKER_TABLE]
    return [
        *rows,
        (_("{key_clicker_back} held", key_clicker_back=key("clicker_back")), low(STOP.words)),
    ]


def key_list() -> str:
    """The README's list of keys, in Markdown."""
    lines = [
        f"**{title}.** " + " · ".join(f"**{keys}** {low(words)}" for keys, words in rows)
        for title, rows in key_groups()
    ]
    states = "; ".join(f"{shown(s)}: {' – '.join(clicker_words(s))}" for s in CLICKER_TABLE)
    forward, back = key("clicker_on"), key("clicker_back")
    lines.append(
        _(
            "**Clicker.** {forward} – {back}, when {states}; {back} held: stop everything",
            forward=forward,
            back=back,
            states=states,
        )
    )
    return "\n\n".join(lines)


if __name__ == "__main__":
    print(key_list())

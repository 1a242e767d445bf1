"""What show sheets usually ask of the music: checked where the program can, else left to do.

Sources beside the lines; "practice" is common practice of the trade, without a source.
"""

from __future__ import annotations

from dataclasses import dataclass

from rehearse.words import _


@dataclass(frozen=True)
class Item:
    """One line: what is asked, and whether it is met; None is the athlete's own to check."""

    text: str
    met: bool | None = None


def checklist(
    *, length: float, limit: float | None, ending: str, labelled: bool, silence: float
) -> tuple[Item, ...]:
    """The list for one stage music file.

    Args:
        length: seconds of music. limit: seconds allowed, None when no rule set is chosen.
        ending: of the file. labelled: whether name or number stands in its name.
        silence: seconds before the music.
    """
    more = (
        _(" (the file with its silence: {length:.1f} s)", length=length + silence)
        if silence
        else ""
    )
    if limit is None:
        fits = Item(
            _(
                "Length: the music is {length:.1f} s{more}; compare it with the show's limit",
                length=length,
                more=more,
            )
        )
    else:
        within = round(length - limit, 3) <= 0
        words = _("within") if within else _("over")
        fits = Item(
            _(
                "Length: {length:.1f} s, {words} the limit of {limit:g} s{more}",
                length=length,
                words=words,
                limit=limit,
                more=more,
            ),
            within,
        )
    return (
        fits,
        Item(
            _("Format: {ending}; mp3 is what event pages ask most often", ending=ending),
            ending == "mp3" or None,
        ),
        Item(_("Name: your name, number or class stands in the file's name"), labelled),
        Item(
            _("One song in the file, nothing after it (event pages play it from the start)"), True
        ),
        Item(
            _(
                "Start: {silence:g} s of silence before the music; ask whether you start on stage",
                silence=silence,
            )
        ),
        Item(
            _("Profanity disqualifies at some shows (event pages): listen to every word yourself")
        ),
        Item(_("Hand it in the way and by the day your show's own sheet says")),
        Item(_("Bring it twice: on a USB stick and on a phone (practice)")),
        Item(_("Play the handed-in file once on another device, from start to end (practice)")),
    )


def as_text(items: tuple[Item, ...], title: str) -> str:
    """The list as plain text with boxes to tick."""
    marks = {True: "[x]", False: "[!]", None: "[ ]"}
    lines = [f"{marks[item.met]} {item.text}" for item in items]
    note = _("[x] met   [!] not met   [ ] yours to check. Your show's own sheet decides.")
    return "\n".join([title, "", *lines, "", note, ""])

"""The words of taking along: what each kind is, and what will come of the choices."""

from __future__ import annotations

from rehearse.cueing.cue_options import Cueing
from rehearse.files.user_error import UserError
from rehearse.handout.cue_plan import planned_length
from rehearse.handout.handout_options import HandoutOptions
from rehearse.handout.handout_source import HandoutSource
from rehearse.routine.rounds import KINDS, RoundWish
from rehearse.words import _, ngettext

#: What each kind is.
WORDS = {
    "sheet": _(
        "Every pose with its count, figure, facing, level and hold, to print or to look at."
    ),
    "cue-track": _("The music with names, counts and count-in for the phone."),
    "cue-video": _("The stage display with the cue track's sound, for a phone or a television."),
    "stage-music": _("The file the show's desk plays: the stage part as set, nothing added."),
    "page": _("The routine for a browser: it plays, and the coach writes remarks that come back."),
    "zip": _("The routine for another machine; it opens there as it is."),
}
#: The main action of each kind.
MAKE = {
    "sheet": _("Make the sheet"),
    "cue-track": _("Make the cue track"),
    "cue-video": _("Make the cue video"),
    "stage-music": _("Make the stage music"),
    "page": _("Make the page"),
    "zip": _("Make the zip"),
}
#: What is being done meanwhile.
MAKING = {
    "sheet": _("Making the sheet"),
    "cue-track": _("Making the cue track"),
    "cue-video": _("Making the cue video"),
    "stage-music": _("Making the stage music"),
    "page": _("Making the page"),
    "zip": _("Making the zip"),
}
_OWN = _("Names and counts recorded as your own voice are used instead of the voice chosen.")
#: What is heard of each choice of cues.
_HEARD: dict[Cueing, str] = {
    "all": _(
        "The name of each pose is said before its transition, then the counts "
        "on the beats before its hit. {own}",
        own=_OWN,
    ),
    "names": _("The name of each pose is said on its hit. {own}", own=_OWN),
    "counts": _("The counts are said on the beats before each hit. {own}", own=_OWN),
    "memory": _("Nothing is said or counted: the music alone, after the length of a count-in."),
}
_ZIP = _(
    "In it: routine, beat map, own pictures and own recordings. The coach "
    "opens the zip, changes what is to be changed, and sends it back; what "
    "differs is then told in words and taken over pose by pose."
)

_PAGE = _(
    "One file for any phone or computer, with the music in it; it needs no "
    "network. The coach plays it, writes remarks on poses, moves and "
    "places, and sends a small file back: drop it on this window. Whatever "
    "it proposes is shown first, change by change."
)
_FILES = {"zip": _ZIP, "page": _PAGE}


def outline(kind: str, source: HandoutSource, options: HandoutOptions) -> str:
    """What a zip or a cue track with these options will hold."""
    if kind in _FILES:
        return _FILES[kind]
    tempos = ", ".join(dict.fromkeys(f"{t * 100:.0f} %" for t in options.tempos))
    try:
        minutes, seconds = divmod(round(planned_length(source, options.cue_plan)), 60)
    except UserError as error:
        return error.sentence
    return _(
        "About {minutes}:{seconds:02d} long, at {tempos}. {heard}",
        minutes=minutes,
        seconds=seconds,
        tempos=tempos,
        heard=_HEARD[options.cueing],
    )


def round_outline(wish: RoundWish) -> str:
    """What a comparison round for the phone will be, in a few lines."""
    hold = (
        _("{hold:g} s", hold=wish.hold)
        if wish.hold == wish.longest
        else _("{hold:g} to {longest:g} s", hold=wish.hold, longest=wish.longest)
    )
    several = ngettext("1 call-out", "{callouts} call-outs", wish.callouts, callouts=wish.callouts)
    lines = [
        _(
            "{kinds}: holds of {hold}, {several}, as set on the Rehearse page (5).",
            kinds=KINDS[wish.kind],
            hold=hold,
            several=several,
        ),
        _("Each call is spoken and has a chapter; “and relax” ends a hold."),
    ]
    if wish.kind == "random":
        lines.append(_("The calls are others every time it is made."))
    return "\n\n".join(lines)

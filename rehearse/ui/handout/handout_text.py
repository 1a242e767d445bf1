"""The words of taking along: what each kind is, and what will come of the choices."""

from __future__ import annotations

from rehearse.cueing.cue_options import Cueing
from rehearse.files.user_error import UserError
from rehearse.handout.cue_plan import planned_length
from rehearse.handout.handout_options import HandoutOptions
from rehearse.handout.handout_source import HandoutSource
from rehearse.routine.rounds import KINDS, RoundWish

#: What each kind is.
WORDS = {
    "sheet": "Every pose with its count, figure, facing, level and hold, to print or to look at.",
    "cue-track": "The music with names, counts and count-in for the phone.",
    "cue-video": "The stage display with the cue track's sound, for a phone or a television.",
    "stage-music": "The file the show's desk plays: the stage part as set, nothing added.",
    "page": "The routine for a browser: it plays, and the coach writes remarks that come back.",
    "zip": "The routine for another machine; it opens there as it is.",
}
#: The main action of each kind.
MAKE = {
    "sheet": "Make the sheet",
    "cue-track": "Make the cue track",
    "cue-video": "Make the cue video",
    "stage-music": "Make the stage music",
    "page": "Make the page",
    "zip": "Make the zip",
}
_OWN = "Names and counts recorded as your own voice are used instead of the voice chosen."
#: What is heard of each choice of cues.
_HEARD: dict[Cueing, str] = {
    "all": "The name of each pose is said before its transition, then the counts on the beats "
    f"before its hit. {_OWN}",
    "names": f"The name of each pose is said on its hit. {_OWN}",
    "counts": f"The counts are said on the beats before each hit. {_OWN}",
    "memory": "Nothing is said or counted: the music alone, after the length of a count-in.",
}
_ZIP = (
    "In it: routine, beat map, own pictures and own recordings. The coach opens the zip, changes "
    "what is to be changed, and sends it back; what differs is then told in words and taken over "
    "pose by pose."
)

_PAGE = (
    "One file for any phone or computer, with the music in it; it needs no network. The coach "
    "plays it, writes remarks on poses, moves and places, and sends a small file back: drop it on "
    "this window. Whatever it proposes is shown first, change by change."
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
    return f"About {minutes}:{seconds:02d} long, at {tempos}. {_HEARD[options.cueing]}"


def round_outline(wish: RoundWish) -> str:
    """What a comparison round for the phone will be, in a few lines."""
    hold = (
        f"{wish.hold:g} s" if wish.hold == wish.longest else f"{wish.hold:g} to {wish.longest:g} s"
    )
    several = "1 call-out" if wish.callouts == 1 else f"{wish.callouts} call-outs"
    lines = [
        f"{KINDS[wish.kind]}: holds of {hold}, {several}, as set on the Rehearse page (5).",
        "Each call is spoken and has a chapter; “and relax” ends a hold.",
    ]
    if wish.kind == "random":
        lines.append("The calls are others every time it is made.")
    return "\n\n".join(lines)

"""What can be chosen for a handout, and the same as arguments of the command."""

from __future__ import annotations

import argparse
import math
from dataclasses import dataclass, fields
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rehearse.cueing.count_in import Counting
from rehearse.cueing.cue_options import CUEINGS, SAID, Cueing, CueVolumes, Said, VolumeStep
from rehearse.cueing.speech import SpeechChoice
from rehearse.cueing.voice import VOICES, VoiceSetting, default_voice
from rehearse.handout.cue_plan import CuePlan
from rehearse.handout.naming import FIELDS, PATTERN
from rehearse.routine.rounds import RoundWish
from rehearse.session.round_options import ARGUMENTS as ROUND
from rehearse.session.round_options import add_round_arguments, wish_of
from rehearse.words import _

if TYPE_CHECKING:
    from rehearse.handout.cue_plan import CuePlan

KINDS = {
    "sheet": _("routine sheet"),
    "cue-track": _("cue track for the phone"),
    "cue-video": _("cue video for phone or TV"),
    "stage-music": _("stage music for the show's desk"),
    "page": _("page for the coach"),
    "zip": _("zip for the coach"),
}
_LOUD = tuple(level.value for level in VolumeStep)
#: What is heard of a cue track and of a cue video.
_HEARD = (
    *("section", "transition", "tempos", "passes", "rest", "cueing", "said", "names", "counts"),
    *("clicks", "turns", "counting", "count_in", "voice", "name_speed", "count_speed"),
)
#: Which options a kind of handout reads, beside `format`; the zip has no format.
_READ = {
    "sheet": ("style", "paper"),
    "cue-track": (*_HEARD, *ROUND),
    "cue-video": (*_HEARD, "screen", "steady"),
    "stage-music": ("silence", "pattern", "number", "name", "division"),
    "zip": ("music", "log"),
}


@dataclass(frozen=True)
class HandoutOptions:
    """Every choice of every kind of handout; each kind reads its own.

    Args:
        format: mp3, m4a, flac or wav for sound, mp4 for a video, pdf or png for a sheet; empty: by
            the file's ending, else mp3, mp4 or pdf.
        style, paper: of the sheet.
        section: names of sections. transition: numbers of poses, the way into each. Both empty:
            the whole routine. tempos: `passes` passes each.
        rest: seconds between passes.
        cueing, said, names, counts, clicks, turns, counting, count_in: what is heard.
        voice, name_speed, count_speed: who says it, and how fast (words a minute).
        called: a comparison round takes the routine's place. background: with the song;
            background_song: with another one.
        screen, steady: of the cue video: "landscape" or "upright"; without flashes.
        silence: seconds before the stage music.
        pattern, number, name, division: the file's name; without a division it is the routine's.
        music, log: whether they go into the zip.
    """

    format: str = ""
    style: str = "pages"
    paper: str = "a4"
    section: tuple[str, ...] = ()
    transition: tuple[int, ...] = ()
    tempos: tuple[float, ...] = (1.0,)
    passes: int = 1
    rest: float = 2.0
    cueing: Cueing = "all"
    said: Said = "both"
    names: str = "loud"
    counts: str = "loud"
    clicks: str = "soft"
    turns: bool = False
    counting: Counting = "eights"
    count_in: int = 4
    voice: str = default_voice().key
    name_speed: int = 190
    count_speed: int = 230
    called: RoundWish | None = None
    background: bool = False
    background_song: Path | None = None
    screen: str = "landscape"
    steady: bool = False
    silence: float = 0.0
    pattern: str = PATTERN
    number: str = ""
    name: str = ""
    division: str | None = None
    music: bool = True
    log: bool = False

    @classmethod
    def of(cls, given: Any) -> HandoutOptions:
        """Options from parsed arguments (or any object with some of the same attributes)."""
        if isinstance(given, cls):
            return given
        names = [f.name for f in fields(cls) if getattr(given, f.name, None) is not None]
        chosen = {name: getattr(given, name) for name in names}
        lists = {name: tuple(v) for name, v in chosen.items() if isinstance(v, list)}
        return cls(**{**chosen, **lists, "called": wish_of(given)})

    @property
    def choice(self) -> SpeechChoice:
        """What is said, counted and clicked."""
        levels = CueVolumes(
            VolumeStep(self.names), VolumeStep(self.counts), VolumeStep(self.clicks)
        )
        return SpeechChoice(
            self.cueing, levels, self.turns, self.counting, self.count_in, self.said
        )

    @property
    def cue_plan(self) -> CuePlan:
        """What the cue track holds."""
        # Here, because every command reads these options and few make a sound.
        tempos = tuple(tempo for tempo in self.tempos for _unused in range(self.passes))
        return CuePlan(self.section, tempos, self.rest, self.choice, self.transition)

    @property
    def voice_setting(self) -> VoiceSetting:
        """Who says it."""
        return VoiceSetting(self.voice, self.name_speed, self.count_speed)


def misplaced(given: Any, kind: str) -> str:
    """An option given that only another kind of handout reads ("--silence"); empty: none."""
    for names in _READ.values():
        for name in names:
            value = getattr(given, name, None)
            if name not in _READ.get(kind, ()) and value is not None:
                return f"--{'no-' if value is False else ''}{name.replace('_', '-')}"
    return ""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add `--kind`, `--out` and every option of `HandoutOptions` to a command."""
    # Every option would be a screenful above the one sentence of a fault.
    parser.usage = "%(prog)s FOLDER --kind KIND --out PATH [option ...]"
    parser.add_argument("--kind", choices=tuple(KINDS), required=True, help=_("what to make"))
    parser.add_argument("--out", required=True, metavar="PATH", help=_("a folder or a file"))
    parser.add_argument(
        "--format",
        choices=("pdf", "png", "mp3", "m4a", "aac", "flac", "wav", "mp4", "html"),
        help=_("default: as the file's name ends, else the kind's own"),
    )
    _sheet(parser.add_argument_group(_("sheet")))
    _sound(parser.add_argument_group(_("cue track and cue video")))
    add_round_arguments(parser.add_argument_group(_("cue track of a comparison round")))
    video = parser.add_argument_group(_("cue video"))
    video.add_argument("--screen", choices=("landscape", "upright"), help=_("default: landscape"))
    video.add_argument("--steady", action="store_true", default=None, help=_("without flashes"))
    stage = parser.add_argument_group(_("stage music"))
    stage.add_argument(
        "--silence", type=_silence, metavar="SECONDS", help=_("before the music, 0–10")
    )
    stage.add_argument(
        "--pattern",
        help=_(
            "the file's name, of {fields}; default: {pattern}",
            fields=", ".join(FIELDS),
            pattern=PATTERN,
        ),
    )
    stage.add_argument("--number", help=_("your number at the show"))
    stage.add_argument("--name", help=_("your name as it shall stand in the file's name"))
    stage.add_argument("--division", help=_("default: the routine's division"))
    packed = parser.add_argument_group(_("zip"))
    choice = argparse.BooleanOptionalAction
    packed.add_argument(
        "--music", action=choice, help=_("whether the song goes in; default: it does")
    )
    packed.add_argument("--log", action=choice, help=_("whether the logbook goes in; default: not"))


def _sheet(group: argparse._ArgumentGroup) -> None:
    style = _("every pose with its eights; cards to cut out; large print")
    group.add_argument("--style", choices=("pages", "wallet", "wall"), help=style)
    group.add_argument("--paper", choices=("a4", "letter"), help=_("default: a4"))


def _sound(group: argparse._ArgumentGroup) -> None:
    group.add_argument(
        "--section", action="append", metavar="NAME", help=_("one section; may be repeated")
    )
    group.add_argument(
        "--transition",
        type=int,
        action="append",
        metavar="NUMBER",
        help=_("the way into the pose of this number; may be repeated"),
    )
    group.add_argument(
        "--tempos", type=_tempos, metavar="LIST", help=_("percent, a pass each: 60,70,80,100")
    )
    group.add_argument(
        "--passes", type=int, choices=range(1, 41), metavar="N", help=_("at each tempo, 1–40")
    )
    group.add_argument("--rest", type=_seconds, metavar="SECONDS", help=_("between passes, 0–60"))
    cueing = "; ".join(CUEINGS.values())
    group.add_argument("--cueing", choices=tuple(CUEINGS), help=cueing)
    group.add_argument(
        "--said", choices=tuple(SAID), help=_("names of {values}", values="; ".join(SAID.values()))
    )
    for what in ("names", "counts", "clicks"):
        group.add_argument(f"--{what}", choices=_LOUD, help=_("how loud the {what} are", what=what))
    group.add_argument(
        "--turns", action="store_true", default=None, help=_("say facing and level, too")
    )
    group.add_argument(
        "--counting", choices=("eights", "in"), help=_("the eight's own, or 5 6 7 8")
    )
    group.add_argument("--count-in", type=int, choices=range(9), metavar="COUNTS", help="0–8")
    group.add_argument("--voice", metavar="VOICE", help="; ".join(v.key for v in VOICES))
    group.add_argument("--name-speed", type=_speed, metavar="WORDS", help=_("a minute, 110–320"))
    group.add_argument("--count-speed", type=_speed, metavar="WORDS", help=_("a minute, 110–320"))


def _tempos(text: str) -> tuple[float, ...]:
    values = tuple(_number(word.strip().rstrip("%")) / 100 for word in text.split(","))
    if not all(0.4 <= v <= 1.05 for v in values) or len(values) > 40:
        raise argparse.ArgumentTypeError(
            _("{text} is not a list of percents from 40 to 105", text=text)
        )
    return values


def _seconds(text: str, most: float = 60.0) -> float:
    value = _number(text.strip().removesuffix("s"))
    if not 0 <= value <= most:
        raise argparse.ArgumentTypeError(
            _("{text} is not between 0 and {most:g} seconds", text=text, most=most)
        )
    return value


def _silence(text: str) -> float:
    return _seconds(text, 10.0)


def _speed(text: str) -> int:
    value = _number(text)
    if not 110 <= value <= 320:
        raise argparse.ArgumentTypeError(
            _("{text} is not between 110 and 320 words a minute", text=text)
        )
    return round(value)


def _number(text: str) -> float:
    """A number, or what lies outside every range."""
    try:
        return float(text)
    except ValueError:
        return math.nan

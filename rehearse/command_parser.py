"""The command line's commands and options, its examples, and the sentences that argparse writes."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Container
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn, TypeAlias, TypeVar

from rehearse import __version__
from rehearse.words import LANGUAGE, SOURCE, _, languages, ngettext

_Number = TypeVar("_Number", int, float)

if TYPE_CHECKING:
    _Commands: TypeAlias = "argparse._SubParsersAction[Parser]"

_BY_CLAP = _("lay it by the clap before the run, where the music cannot be found")
_FIRST_HIT = _("film second of the first hit, where the music cannot be found by its sound")

EXAMPLES = _(
    "examples:\n  rehearse open my-routine                      the window, "
    "with this routine; a zip of it, too\n  rehearse new song.mp3 my-routine"
    "              a routine folder with the song's beat map\n  rehearse "
    "check my-routine                     what is wrong with it, and what "
    "to do\n  rehearse dry-run my-routine --section Back --tempo 70 --passes"
    " 2 --out pictures\n  rehearse dry-run my-routine --round mandatories "
    "--hold 5-30 --out pictures\n  rehearse log my-routine --csv > "
    "passes.csv    what was drilled\n  rehearse film my-routine run.mp4"
    "              a filmed run: early or late at each hit\n  rehearse beats"
    " song.mp3                       time and place in the bar, a beat a "
    "line\n  rehearse cut my-routine --to 60               versions of its "
    "song within 60 s\n  rehearse handout my-routine --kind sheet --out .\n  "
    "rehearse keys --out keys.pdf                  every key, on paper\n"
)

#: Those that a user of this program can meet; argparse asks for them by their English text.
SENTENCES = (
    *(_("usage: "), _("options"), _("positional arguments"), _("show this help message and exit")),
    *(_("show program's version number and exit"), _("argument %(argument_name)s: %(message)s")),
    *(_("the following arguments are required: %s"), _("unrecognized arguments: %s")),
    *(_("expected one argument"), _("expected at most one argument")),
    *(_("expected at least one argument"), _("invalid %(type)s value: %(value)r")),
    *(_("invalid choice: %(value)r (choose from %(choices)s)"), _("ignored explicit argument %r")),
    *(_("not allowed with argument %s"), _("one of the arguments %s is required")),
    _("ambiguous option: %(option)s could match %(matches)s"),
)


def translate_argparse() -> None:
    """Let argparse look its sentences up here; it knows no other way to another language."""
    if LANGUAGE != SOURCE:
        argparse.__dict__.update({"_": _, "ngettext": ngettext})


class Parser(argparse.ArgumentParser):
    """Wrong options are one line that says what is wrong and where help is."""

    #: Of the commands.
    names: Container[str] = ()

    def error(self, message: str) -> NoReturn:
        """Leave with status 2."""
        message = message.removeprefix("argument ")
        self.exit(
            2, _("{prog}: {message_} – see {prog} --help.\n", prog=self.prog, message_=message)
        )


def make_parser() -> Parser:
    """The parser of the whole command line; `command` of what it reads is a command's name."""
    translate_argparse()
    parser = Parser(
        prog="rehearse",
        usage="%(prog)s [-h] [--version] [--language CODE] [COMMAND ...]",
        description=_(
            "Rehearse a free posing routine: cues, slow loops and a logbook. "
            "Without a command the window opens with the routine opened last."
        ),
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="version", version=f"rehearse {__version__}")
    # Read by `words` before anything is imported; here it is only checked.
    codes = tuple(languages())
    parser.add_argument("--language", choices=codes, help=_("of texts and voice, for this time"))
    parser.set_defaults(command="open", folder=None)
    commands = parser.add_subparsers(title=_("commands"), metavar="COMMAND", prog="rehearse")
    _add_window_and_check(commands)
    _add_new(commands)
    _add_cut(commands)
    _add_log_and_beats(commands)
    _add_dry_run(commands)
    _add_film(commands)
    _add_handout(commands)
    menu = _add(commands, "install-menu-entry", _("put Rehearse into the desktop's menu"))
    menu.add_argument("--remove", action="store_true", help=_("take it out again"))
    parser.names = commands.choices
    return parser


def _add(commands: _Commands, name: str, words: str) -> argparse.ArgumentParser:
    about = f"{words[:1].upper()}{words[1:]}."
    parser: argparse.ArgumentParser = commands.add_parser(name, help=words, description=about)
    parser.set_defaults(command=name)
    return parser


def _folder(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("folder", type=Path, metavar="FOLDER", help=_("the routine's folder"))


def _add_window_and_check(commands: _Commands) -> None:
    window = _add(commands, "open", _("open the window"))
    words = _("a routine's folder, or the zip of one, which is unpacked")
    window.add_argument("folder", type=Path, nargs="?", metavar="FOLDER", help=words)
    window.add_argument(
        "--walk", action="store_true", help=_("show around on it, at the first start")
    )
    keys = _add(commands, "keys", _("list every key, or make a sheet of them to print"))
    keys.add_argument("--out", type=Path, metavar="FILE", help=_("the sheet, a PDF"))
    keys.add_argument("--paper", choices=("a4", "letter"), default="a4", help=_("of the sheet"))
    check = _add(commands, "check", _("check a routine against the rules and the music"))
    _folder(check)
    check.add_argument("--rules", metavar="KEY", help=_("another rule set than the routine's own"))
    check.add_argument("--json", action="store_true", help=_("print JSON instead of a table"))


def _add_new(commands: _Commands) -> None:
    new = _add(commands, "new", _("make a routine folder from a song, with its beat map"))
    new.add_argument(
        "song", type=Path, nargs="?", metavar="SONG", help=_("any audio file; it is copied")
    )
    new.add_argument("folder", type=Path, metavar="FOLDER", help=_("the folder to make"))
    new.add_argument("--title", metavar="TEXT", help=_("its title, default the song's name"))
    new.add_argument("--rules", metavar="KEY", help=_("its rule set, default open-60"))
    new.add_argument("--no-song", action="store_true", help=_("comparison rounds alone, at first"))
    new.add_argument("--division", metavar="CLASS", help=_("of the rounds: Figure, Bikini …"))
    new.add_argument("--figure", choices=("man", "woman"), help=_("of the rounds, default man"))


def _add_cut(commands: _Commands) -> None:
    cut = _add(commands, "cut", _("cut the song to a limit, joined on counts"))
    _folder(cut)
    cut.add_argument("--to", type=_limit, metavar="SECONDS", help=_("default: the rules' limit"))
    cut.add_argument("--take", type=int, metavar="N", help=_("make version N the routine's music"))
    cut.add_argument(
        "--add", type=Path, metavar="SONG", help=_("make the versions of parts of this song too")
    )
    cut.add_argument("--whole", action="store_true", help=_("go back to the whole song"))
    cut.add_argument("--show", action="store_true", help=_("print the present cut"))
    cut.add_argument("--json", action="store_true", help=_("print JSON instead of a table"))


def _add_log_and_beats(commands: _Commands) -> None:
    log = _add(commands, "log", _("list every pass that was rehearsed"))
    _folder(log)
    log.add_argument("--csv", action="store_true", help=_("print comma-separated values"))
    log.add_argument("--rounds", action="store_true", help=_("the calls of the comparison rounds"))
    words = _(
        "print the beats of a song: time, tab, place in the bar; as they are "
        "followed from first to last, also where the beat map has free time"
    )
    beats = _add(commands, "beats", words)
    beats.add_argument("song", type=Path, metavar="SONG", help=_("any audio file"))


def _add_dry_run(commands: _Commands) -> None:
    dry = _add(commands, "dry-run", _("rehearse without screen and sound, into files"))
    _folder(dry)
    dry.add_argument(
        "--section", metavar="NAME", help=_("one section instead of the whole routine")
    )
    dry.add_argument(
        "--tempo", type=_percent, default=1.0, metavar="PERCENT", help=_("40 to 105, default 100")
    )
    dry.add_argument("--passes", type=_passes, default=1, metavar="N", help=_("1 to 99, default 1"))
    from rehearse.cueing.cue_options import SAID

    named = "; ".join(SAID.values())
    dry.add_argument(
        "--said", choices=tuple(SAID), help=_("names of {named}, default both", named=named)
    )
    dry.add_argument("--out", type=Path, required=True, metavar="DIR", help=_("where the files go"))
    from rehearse.session.round_options import add_round_arguments

    add_round_arguments(dry.add_argument_group(_("comparison round")))


def _add_film(commands: _Commands) -> None:
    film = _add(commands, "film", _("lay a filmed run on the music: early or late at each hit"))
    _folder(film)
    film.add_argument("film", type=Path, metavar="FILM", help=_("mp4, mov, mkv or webm with sound"))
    film.add_argument(
        "--tempo",
        type=_percent,
        metavar="PERCENT",
        help=_("it was danced at; else it is tried out"),
    )
    film.add_argument("--run", type=_passes, default=1, metavar="N", help=_("which run, default 1"))
    film.add_argument("--clap", action="store_true", help=_BY_CLAP)
    film.add_argument("--first-hit", type=float, metavar="SECOND", help=_FIRST_HIT)
    film.add_argument(
        "--copy", action="store_true", help=_("keep the film itself in the folder, too")
    )
    film.add_argument("--json", action="store_true", help=_("print JSON instead of a table"))


def _add_handout(commands: _Commands) -> None:
    from rehearse.handout.handout_options import add_arguments

    handout = _add(
        commands,
        "handout",
        _("make the sheet, cue track, cue video, stage music, page or zip"),
    )
    _folder(handout)
    add_arguments(handout)


def _percent(text: str) -> float:
    return _number(float, text.rstrip("%"), 40, 105) / 100


def _limit(text: str) -> float:
    return _number(float, text.rstrip("s "), 15, 600)


def _passes(text: str) -> int:
    return _number(int, text, 1, 99)


def _number(kind: Callable[[str], _Number], text: str, least: int, most: int) -> _Number:
    try:
        value = kind(text)
    except ValueError:
        value = None
    if value is None or not least <= value <= most:
        raise argparse.ArgumentTypeError(
            _("{text} is not a number from {least} to {most}", text=text, least=least, most=most)
        )
    return value

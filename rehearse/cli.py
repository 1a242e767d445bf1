"""The command line: the same jobs without a window, and the way to open it.

Every command imports only what it needs, so that `rehearse open` is on screen at once.
"""

from __future__ import annotations

import argparse
import functools
import io
import sys
from collections.abc import Callable, Container, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, TextIO, TypeAlias, TypeVar

from rehearse import __version__
from rehearse.files.user_error import UserError
from rehearse.option_texts import EXAMPLES, Parser, translate_argparse
from rehearse.words import _, languages

_Number = TypeVar("_Number", int, float)

if TYPE_CHECKING:
    from rehearse.cueing.voice import SpeechEngine
    from rehearse.routine.rounds import RoundWish
    from rehearse.routine.rules import RuleSet

    _Commands: TypeAlias = "argparse._SubParsersAction[Parser]"

_FIRST_HIT = _("film second of the first hit, where the music cannot be found by its sound")


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; returns the exit status (0 fine, 1 a fault found, 2 unusable)."""
    _let_print(sys.stdout, sys.stderr)
    parser, given = _parser(), sys.argv[1:] if arguments is None else arguments
    options = parser.parse_args(given if _is_command(given, parser.names) else ["open", *given])
    command: Callable[[argparse.Namespace], int] | None = options.command
    try:
        return command(options) if command else _open(argparse.Namespace(folder=None))
    except UserError as error:
        print(error.sentence, file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        print(_("Stopped."), file=sys.stderr)
        return 130
    except BrokenPipeError:  # the reader of the output has gone, as with `| head`
        sys.stderr.close()
        return 0


def _let_print(*streams: TextIO | None) -> None:
    """Let no sign that an old terminal lacks stop a command: a question mark stands for it."""
    for stream in streams:
        if isinstance(stream, io.TextIOWrapper) and "utf" not in stream.encoding.lower():
            stream.reconfigure(errors="replace")


def _is_command(arguments: Sequence[str], names: Container[str]) -> bool:
    """Not so of a lone file or folder, as desktops hand it over: it is to be opened."""
    if len(arguments) != 1 or arguments[0].startswith("-") or arguments[0] in names:
        return True
    return not Path(arguments[0]).exists()


def _parser() -> Parser:
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
    parser.set_defaults(command=None)
    commands = parser.add_subparsers(title=_("commands"), metavar="COMMAND", prog="rehearse")
    _add_window_and_check(commands)
    _add_new(commands)
    _add_cut(commands)
    _add_log_and_beats(commands)
    _add_dry_run(commands)
    _add_film(commands)
    _add_handout(commands)
    menu = _add(commands, "install-menu-entry", _("put Rehearse into the desktop's menu"), _menu)
    menu.add_argument("--remove", action="store_true", help=_("take it out again"))
    parser.names = commands.choices
    return parser


def _add(
    commands: _Commands, name: str, words: str, run: Callable[[argparse.Namespace], int]
) -> argparse.ArgumentParser:
    about = f"{words[:1].upper()}{words[1:]}."
    parser: argparse.ArgumentParser = commands.add_parser(name, help=words, description=about)
    parser.set_defaults(command=run)
    return parser


def _folder(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("folder", type=Path, metavar="FOLDER", help=_("the routine's folder"))


def _add_window_and_check(commands: _Commands) -> None:
    window = _add(commands, "open", _("open the window"), _open)
    words = _("a routine's folder, or the zip of one, which is unpacked")
    window.add_argument("folder", type=Path, nargs="?", metavar="FOLDER", help=words)
    window.add_argument(
        "--walk", action="store_true", help=_("show around on it, at the first start")
    )
    keys = _add(commands, "keys", _("list every key, or make a sheet of them to print"), _keys)
    keys.add_argument("--out", type=Path, metavar="FILE", help=_("the sheet, a PDF"))
    keys.add_argument("--paper", choices=("a4", "letter"), default="a4", help=_("of the sheet"))
    check = _add(commands, "check", _("check a routine against the rules and the music"), _check)
    _folder(check)
    check.add_argument("--rules", metavar="KEY", help=_("another rule set than the routine's own"))
    check.add_argument("--json", action="store_true", help=_("print JSON instead of a table"))


def _add_new(commands: _Commands) -> None:
    new = _add(commands, "new", _("make a routine folder from a song, with its beat map"), _new)
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
    cut = _add(commands, "cut", _("cut the song to a limit, joined on counts"), _cut)
    _folder(cut)
    cut.add_argument("--to", type=_limit, metavar="SECONDS", help=_("default: the rules' limit"))
    cut.add_argument("--take", type=int, metavar="N", help=_("make version N the routine's music"))
    cut.add_argument("--whole", action="store_true", help=_("go back to the whole song"))
    cut.add_argument("--show", action="store_true", help=_("print the present cut"))
    cut.add_argument("--json", action="store_true", help=_("print JSON instead of a table"))


def _add_log_and_beats(commands: _Commands) -> None:
    log = _add(commands, "log", _("list every pass that was rehearsed"), _log)
    _folder(log)
    log.add_argument("--csv", action="store_true", help=_("print comma-separated values"))
    log.add_argument("--rounds", action="store_true", help=_("the calls of the comparison rounds"))
    words = _(
        "print the beats of a song: time, tab, place in the bar; as they are "
        "followed from first to last, also where the beat map has free time"
    )
    beats = _add(commands, "beats", words, _beats)
    beats.add_argument("song", type=Path, metavar="SONG", help=_("any audio file"))


def _add_dry_run(commands: _Commands) -> None:
    dry = _add(commands, "dry-run", _("rehearse without screen and sound, into files"), _dry_run)
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
    film = _add(
        commands, "film", _("lay a filmed run on the music: early or late at each hit"), _film
    )
    _folder(film)
    film.add_argument("film", type=Path, metavar="FILM", help=_("mp4, mov, mkv or webm with sound"))
    film.add_argument(
        "--tempo",
        type=_percent,
        metavar="PERCENT",
        help=_("it was danced at; else it is tried out"),
    )
    film.add_argument("--run", type=_passes, default=1, metavar="N", help=_("which run, default 1"))
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
        _handout,
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


def _open(options: argparse.Namespace) -> int:
    if options.folder is not None:
        from rehearse.routine.folder import find_folder, is_zip

        if not is_zip(options.folder):  # where there is none, say so before a window is made
            find_folder(options.folder)

    from rehearse.app import run

    return run(options.folder, walk=getattr(options, "walk", False))


def _keys(options: argparse.Namespace) -> int:
    from rehearse.ui.key_list import clicker_rows, key_groups

    groups = [*key_groups(), (_("Clicker"), clicker_rows())]
    if options.out is None:
        for title, rows in groups:
            print(title)
            for keys, words in rows:
                print(f"  {keys:<32} {words}")
        return 0
    from rehearse.files.atomic import save_atomic
    from rehearse.handout.key_sheet import make_key_sheet

    save_atomic(options.out, make_key_sheet(_("Keys of Rehearse"), groups, options.paper))
    print(_("The key sheet is in {out}.", out=options.out))
    return 0


def _check(options: argparse.Namespace) -> int:
    from rehearse.routine.folder import open_folder
    from rehearse.routine.report import as_json, as_table, report, song_error

    opened = open_folder(options.folder)
    for warning in opened.warnings:
        print(warning, file=sys.stderr)
    found = report(opened, options.rules, song=song_error(opened))
    print(as_json(found) if options.json else as_table(found), end="")
    return 1 if found.has_fault else 0


def _new(options: argparse.Namespace) -> int:
    from rehearse.routine.rules import load_rules
    from rehearse.routine.start import FIRST_RULES, check_free, describe, start_folder, title_of

    # What can be refused at once is not told after the song was listened to.
    check_free(options.folder)
    rules = load_rules(FIRST_RULES if options.rules is None else options.rules)
    if options.song is None or options.no_song:
        return _new_rounds(options, rules)
    if options.division is not None or options.figure is not None:
        raise UserError(_("--division and --figure are for rounds alone"), do=_("add --no-song"))
    title = title_of(options.song) if options.title is None else options.title

    from rehearse.music.apart import map_apart

    beatmap = map_apart(options.song, _progress if sys.stderr.isatty() else None)
    print(start_folder(options.folder, options.song, beatmap, rules, title))
    print(describe(beatmap), file=sys.stderr)
    return 0


def _cut(options: argparse.Namespace) -> int:
    from rehearse.routine import cutcommand
    from rehearse.routine.folder import open_folder

    if options.show:
        print(cutcommand.present(open_folder(options.folder).routine), end="")
        return 0
    if options.whole:
        print(cutcommand.back_to_song(options.folder), end="", file=sys.stderr)
        return 0
    if options.take is not None:
        cutcommand.refuse_if_open(options.folder)
    progress = _progress if sys.stderr.isatty() else None
    opened, source, versions = cutcommand.listed(options.folder, options.to, progress)
    if options.take is None:
        print(
            cutcommand.as_json(versions) if options.json else cutcommand.as_table(versions), end=""
        )
        return 0
    if not 1 <= options.take <= len(versions):
        raise UserError(
            _("there is no version {take}", take=options.take),
            do=_("write 1 to {number}", number=len(versions)),
        )
    version = versions[options.take - 1]
    aside = cutcommand.take(opened, source, version, progress)
    print(cutcommand.as_json([version]) if options.json else cutcommand.as_table([version]), end="")
    if aside:
        print(aside, file=sys.stderr)
    return 0


def _new_rounds(options: argparse.Namespace, rules: RuleSet) -> int:
    from rehearse.routine.start import start_rounds

    if options.song is not None:
        raise UserError(_("a song and --no-song were both given"), do=_("leave one out"))
    if not options.no_song:
        do = _("name one before the folder, or add --no-song for comparison rounds alone")
        raise UserError(_("no song was named"), do=do)
    title = options.folder.name if options.title is None else options.title
    division, figure = options.division or "", options.figure or "man"
    place = options.folder.absolute().parent
    print(start_rounds(options.folder, place, rules, title, division=division, figure=figure))
    return 0


def _progress(fraction: float, text: str) -> None:
    """One line of the terminal, written over until the work is done."""
    words = "" if fraction >= 1 else f"{text} … {100 * fraction:.0f} %"
    print(f"\r{words:<60}", end="" if words else "\r", file=sys.stderr, flush=True)


def _log(options: argparse.Namespace) -> int:
    from rehearse.practice import export
    from rehearse.practice.logbook import FILE_NAME, Logbook
    from rehearse.routine.folder import open_folder

    opened = open_folder(options.folder)
    if not (opened.folder / FILE_NAME).exists():
        raise UserError(_("has no logbook yet"), where=options.folder, do=_("rehearse it first"))
    with Logbook(opened.folder / FILE_NAME, identity=opened.routine.id) as logbook:
        if logbook.notice:
            print(logbook.notice, file=sys.stderr)
        rounds = logbook.rounds() if options.rounds else ()
        passes = () if options.rounds else logbook.history(taken=False)
    if options.csv:
        print(export.calls_to_csv(rounds) if options.rounds else export.to_csv(passes), end="")
    elif options.rounds:
        print(export.format_table(export.call_rows(rounds), export.ROUND_HEADINGS), end="")
    else:
        print(export.format_table(export.table_rows(passes)), end="")
    return 0


def _beats(options: argparse.Namespace) -> int:
    from rehearse.music.analysis.beats import beats_of_file

    for time, place in beats_of_file(options.song):
        print(f"{time:.6f}\t{int(place)}")
    return 0


def _dry_run(options: argparse.Namespace) -> int:
    from rehearse.cueing.voice import SpeechEngine
    from rehearse.cueing.voice.recordings import FOLDER
    from rehearse.cueing.voice.speech_cache import default_store
    from rehearse.session.dry_run import dry_run
    from rehearse.session.round_options import alone, wish_of
    from rehearse.ui.stage.stage_png import StagePictures

    if wrong := alone(options):
        raise UserError(_("{wrong} is for a comparison round", wrong=wrong), do=_("add --round"))
    speech_engine = SpeechEngine(kept=default_store(), recordings=options.folder / FOLDER)
    if (wish := wish_of(options)) is not None:
        return _dry_round(options, wish, speech_engine)
    result = dry_run(
        options.folder,
        options.out,
        functools.partial(StagePictures, folder=options.folder),
        section=options.section,
        tempo=options.tempo,
        passes=options.passes,
        speech_engine=speech_engine,
        said=options.said or "both",
    )
    print(result.words)
    for sentence in speech_engine.errors:
        print(sentence, file=sys.stderr)
    return 0


def _dry_round(options: argparse.Namespace, wish: RoundWish, speech_engine: SpeechEngine) -> int:
    from rehearse.session.round_dry_run import background_music, dry_round
    from rehearse.ui.stage.stage_png import StagePictures

    if options.section is not None or options.tempo != 1.0 or options.passes != 1:
        raise UserError(
            _("a comparison round has no section, tempo or passes"), do=_("leave them out")
        )
    music = background_music(options.folder, bool(options.background), options.background_song)
    pictures = functools.partial(StagePictures, folder=options.folder)
    made = dry_round(
        options.folder, options.out, wish, pictures, speech_engine=speech_engine, music=music
    )
    print(made.words)
    for sentence in speech_engine.errors:
        print(sentence, file=sys.stderr)
    return 0


def _film(options: argparse.Namespace) -> int:
    from dataclasses import replace

    from rehearse.film.film_text import as_json, as_table
    from rehearse.film.take import read_take, wanted
    from rehearse.practice.logbook import FILE_NAME, Logbook
    from rehearse.routine.folder import open_folder

    opened = open_folder(options.folder)
    asked = wanted(opened, tempo=options.tempo, run=options.run)
    asked = replace(asked, first_hit=options.first_hit)
    report = _progress if sys.stderr.isatty() else _silent
    read = read_take(options.film, opened, asked, report, copy=options.copy)
    with Logbook(opened.folder / FILE_NAME, identity=opened.routine.id) as logbook:
        logbook.keep_take(read.take)
    places = {placed.id: str(placed.hit) for placed in opened.routine.poses}
    print((as_json if options.json else as_table)(read, places), end="")
    for told in filter(None, (read.kept.told, logbook.notice)):
        print(told, file=sys.stderr)
    return 1 if read.take.refused else 0


def _menu(options: argparse.Namespace) -> int:
    from rehearse.ui import menu_entry

    if options.remove:
        gone = menu_entry.remove()
        for path in gone:
            print(path)
        print(_("Rehearse is no longer in the menu.") if gone else _("It was not in the menu."))
        return 0
    for path in menu_entry.install():
        print(path)
    print(
        _("Rehearse is in the menu; a routine's zip, or its routine.yaml, opens by double click.")
    )
    return 0


def _silent(fraction: float, text: str) -> None:
    """No progress where nobody looks."""


def _handout(options: argparse.Namespace) -> int:
    from rehearse.handout.make import make

    painter = None
    if options.kind == "cue-video":
        from rehearse.ui.stage.frames import StageFrames

        painter = StageFrames
    report = _progress if sys.stderr.isatty() else None
    try:
        out = Path(options.out)
        made = make(options.folder, options.kind, out, options, report, painter=painter)
    finally:
        if report:
            report(1.0, "")
    for path in made.paths:
        print(path)
    for sentence in (made.sentence, *made.warnings):
        print(sentence, file=sys.stderr)
    return 0


if __name__ == "__main__":
    sys.exit(main())

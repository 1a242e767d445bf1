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
from typing import TYPE_CHECKING, TextIO

from rehearse.command_parser import make_parser
from rehearse.files.user_error import UserError
from rehearse.words import _

if TYPE_CHECKING:
    from rehearse.cueing.voice import SpeechEngine
    from rehearse.routine.rounds import RoundWish
    from rehearse.routine.rules import RuleSet


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; returns the exit status (0 fine, 1 a fault found, 2 unusable)."""
    _let_print(sys.stdout, sys.stderr)
    parser, given = make_parser(), sys.argv[1:] if arguments is None else arguments
    options = parser.parse_args(given if _is_command(given, parser.names) else ["open", *given])
    try:
        return COMMANDS[options.command](options)
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


def _open(options: argparse.Namespace) -> int:
    from rehearse.files import quick_start

    quick_start.begin()
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
    found = cutcommand.listed(options.folder, options.to, progress, options.add)
    opened, source, versions = found
    as_text = functools.partial(cutcommand.as_table, songs=source.songs)
    told = cutcommand.as_json if options.json else as_text
    if options.take is None:
        print(told(versions), end="")
        return 0
    if not 1 <= options.take <= len(versions):
        raise UserError(
            _("there is no version {take}", take=options.take),
            do=_("write 1 to {number}", number=len(versions)),
        )
    version = versions[options.take - 1]
    aside = cutcommand.take(opened, source, version, progress)
    print(told([version]), end="")
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
    asked = replace(asked, first_hit=options.first_hit, by_clap=options.clap)
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


COMMANDS: dict[str, Callable[[argparse.Namespace], int]] = {
    "open": _open,
    "keys": _keys,
    "check": _check,
    "new": _new,
    "cut": _cut,
    "log": _log,
    "beats": _beats,
    "dry-run": _dry_run,
    "film": _film,
    "handout": _handout,
    "install-menu-entry": _menu,
}


if __name__ == "__main__":
    sys.exit(main())

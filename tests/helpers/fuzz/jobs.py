"""What is done with each kind of hostile file: opened, checked, kept and shown as the program does.

Each returns the sentences that were told, nothing where all was well; what must not be raises.
"""

from __future__ import annotations

import contextlib
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from tests.helpers.fuzz.cases import CUT_PLACES, Case


def _folder(case: Case) -> str:
    """Open it, check it, save it elsewhere and open that: it must be the same."""
    from rehearse.files.user_error import UserError
    from rehearse.handout.handout_source import make_source
    from rehearse.routine.folder import open_folder, save_folder
    from rehearse.routine.report import as_json, report
    from rehearse.routine.rules import sound_rules

    try:
        opened = open_folder(case.folder)
        found = report(opened)
        as_json(found)
    except UserError as error:
        sound_rules(case.folder)
        return error.sentence
    make_source(opened.folder, opened.routine, opened.beatmap)
    with _scratch() as copy:
        save_folder(copy, opened.routine, opened.beatmap)
        again = open_folder(copy)
        if (again.routine, again.beatmap) != (opened.routine, opened.beatmap):
            raise AssertionError("saved and opened again it is another routine")
    return ""


def _cut(case: Case) -> str:
    """Open it, then go back to the whole song, which must open as it was saved."""
    from rehearse.files.user_error import UserError
    from rehearse.routine.cutcommand import present
    from rehearse.routine.cutting import source_of, with_whole_song
    from rehearse.routine.folder import open_folder, save_folder

    told = _folder(case)
    if told:
        return told
    opened = open_folder(case.folder)
    present(opened.routine)
    if opened.routine.cut is None:
        return ""
    try:
        source = source_of(opened.folder, opened.routine, opened.beatmap)
    except UserError as error:
        return error.sentence
    back = with_whole_song(opened.routine, opened.beatmap, source)
    with _scratch() as copy:
        save_folder(copy, back, source.first.beatmap)
        if (again := open_folder(copy)).routine != back or again.beatmap != source.first.beatmap:
            raise AssertionError("back on the whole song it is another routine")
    return ""


def _film(case: Case) -> str:
    """Read it as a filmed run, and show it as one that was kept."""
    from rehearse.files.user_error import UserError
    from rehearse.film.film_reading import FilmRequest, read_film
    from rehearse.film.proxy import FilmFrames

    wanted = FilmRequest(case.folder / "song.wav", (0.8, 1.9), (1.0,), first_hit=0.8)
    told = _told(read_film, case.path, wanted, lambda fraction, text: None)
    try:
        frames = FilmFrames(case.path)
    except UserError as error:
        return "\n".join(filter(None, (told, error.sentence)))
    try:
        for second in (0.5, 2.0, 0.1):
            frames.at(second, 160)
        frames.beside(1.0, -1)
    except UserError as error:
        return "\n".join(filter(None, (told, error.sentence)))
    finally:
        frames.close()
    return told


def _poses(case: Case) -> str:
    from rehearse.routine.posefile import read_poses

    return _told(read_poses, case.path)


def _logbook(case: Case) -> str:
    from datetime import date

    from rehearse.files.user_error import UserError
    from rehearse.film.keep import kept_file
    from rehearse.practice import export
    from rehearse.practice.habits import habits
    from rehearse.practice.logbook import Logbook
    from rehearse.practice.scope import spots_of
    from rehearse.practice.stamina import stamina
    from rehearse.practice.summary import summarise
    from rehearse.routine.folder import open_folder

    opened = open_folder(case.folder.parent / "sound")
    routine, beatmap = opened.routine, opened.beatmap
    try:
        with Logbook(case.path, fallback=case.path.parents[1] / "home" / "spare.sqlite") as logbook:
            notice = logbook.notice
            passes = logbook.history()
            export.to_csv(passes)
            export.format_table(export.table_rows(passes))
            summarise(logbook, routine, spots_of(routine, beatmap), date(2026, 11, 26))
            rounds = logbook.rounds()
            export.calls_to_csv(rounds)
            export.format_table(export.call_rows(rounds), export.ROUND_HEADINGS)
            stamina(rounds)
            for take in logbook.takes():
                kept_file(case.folder, take.folder, "film.mp4")
            habits(logbook.takes())
    except UserError as error:
        return error.sentence
    return notice


def _zip(case: Case) -> str:
    from rehearse.files.user_error import UserError
    from rehearse.routine.folder import open_folder
    from rehearse.routine.zip_import import open_bundle

    with _scratch() as into:
        try:
            folder = open_bundle(case.path, into)
        except UserError as error:
            if list(into.iterdir()):
                raise AssertionError("a zip that was refused left something behind") from error
            return error.sentence
        return _told(open_folder, folder)


def _song(case: Case) -> str:
    from rehearse.music.decode import load_track

    return _told(load_track, case.path)


def _voice(case: Case) -> str:
    from rehearse.cueing.voice.recordings import find_recordings, load_recording

    said = [
        _told(load_recording, path, text)
        for text, path in find_recordings(case.path.parent).items()
    ]
    return "\n".join(filter(None, said))


def _picture(case: Case) -> str:
    from rehearse.files.user_error import UserError
    from rehearse.handout.sheet.drawings import photo
    from rehearse.routine.folder import open_folder
    from rehearse.routine.photos import keep_picture, read_picture
    from rehearse.ui.figure.pose_thumbs import decoded

    told = _told(open_folder, case.folder)
    try:
        decoded(read_picture(case.path), 400)
        with _scratch() as kept:
            keep_picture(kept, case.path, "slow")
    except UserError as error:
        return "\n".join(filter(None, (told, error.sentence)))
    from rehearse.handout.sheet import drawings

    try:
        photo(case.folder, "pictures/lantern.png")
    except drawings.DAMAGE:
        return f"{case.path.name} cannot be read."
    return told


def _remarks(case: Case) -> str:
    from rehearse.files.door import read_file
    from rehearse.files.user_error import UserError
    from rehearse.routine.folder import open_folder
    from rehearse.routine.remarks import (
        LARGEST,
        load_remarks,
        read_remarks,
        receive,
        with_changes,
    )

    opened = open_folder(case.folder.parent / "sound")
    try:
        came = read_remarks(read_file(case.path, LARGEST), case.path, opened.routine.id)
        with_changes(opened.routine, opened.beatmap, came)
        with _scratch() as copy:
            if receive(copy, came) != load_remarks(copy):
                raise AssertionError("kept and read again they are other remarks")
    except UserError as error:
        return error.sentence
    return ""


def _kept(case: Case) -> str:
    """The remarks kept in a folder."""
    from rehearse.files.user_error import UserError
    from rehearse.routine.folder import open_folder
    from rehearse.routine.remarks import load_remarks, save_remarks, with_changes

    opened = open_folder(case.folder.parent / "sound")
    try:
        kept = load_remarks(case.folder)
        with_changes(opened.routine, opened.beatmap, kept)
        with _scratch() as copy:
            save_remarks(copy, kept)
            if load_remarks(copy) != kept:
                raise AssertionError("kept and read again they are other remarks")
    except UserError as error:
        return error.sentence
    return ""


def _settings(case: Case) -> str:
    from rehearse.ui.settings import FIRST, Settings

    settings = Settings(case.path)
    for name, first in FIRST.items():
        if not isinstance(settings.get(name), type(first)):
            raise AssertionError(f"{name} is {settings.get(name)!r}")
    del settings
    return ""


def run_command(case: Case) -> str:
    """The same through the command line, in this process: a status and sentences, no more."""
    import io

    from rehearse import cli

    commands = {
        "logbook": ["log", str(case.folder), "--csv"],
        "song": ["beats", str(case.path)],
        "voice": ["check", str(case.folder)],
        "cut": ["cut", str(case.folder), "--show"],
    }
    out, told = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(told), _scratch() as made:
        chosen = commands.get(case.kind, ["check", str(case.folder), "--json"])
        if case.kind == "picture":
            chosen = ["handout", str(case.folder), "--kind", "sheet", "--out", str(made)]
        try:
            status = cli.main(chosen)
        except SystemExit as left:
            status = int(left.code or 0)
    if status not in (0, 1, 2):
        raise AssertionError(f"left with status {status}")
    return told.getvalue()


def _told(function: Callable[..., Any], *arguments: Any) -> str:
    from rehearse.files.user_error import UserError

    try:
        function(*arguments)
    except UserError as error:
        return error.sentence
    return ""


@contextlib.contextmanager
def _scratch() -> Iterator[Path]:
    with tempfile.TemporaryDirectory() as folder:
        yield Path(folder)


JOBS: dict[str, Callable[[Case], str]] = {
    **dict.fromkeys(("routine", "map", "rules", "checks"), _folder),
    "poses": _poses,
    "logbook": _logbook,
    "zip": _zip,
    "song": _song,
    "voice": _voice,
    "picture": _picture,
    "settings": _settings,
    "remarks": _remarks,
    "kept": _kept,
    **dict.fromkeys(CUT_PLACES, _cut),
    "film": _film,
}

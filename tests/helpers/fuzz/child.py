"""The process that opens hostile files: one case a line in, what became of it a line out.

It may open no socket, and what it writes anywhere but in its own folder is told. Times are those
of opening alone, without the time for which other programs had the processor; memory is the peak
of the whole process since the case began.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import resource
import shutil
import sys
import tempfile
import time
import traceback
from collections.abc import Callable, Iterator
from dataclasses import asdict
from pathlib import Path
from typing import Any

from tests.helpers import no_sockets
from tests.helpers.fuzz.cases import CUT_PLACES, PLACES, SECRET, Case, Maker

#: Letters that a line of a sentence has at most.
_LONGEST_LINE = 900
#: Names that opening may make in the routine's folder: the logbook's own, and what it sets aside.
_LOGBOOK = "practice"
#: What Python and its libraries say themselves, which nobody should have to read.
_RAW = (
    "Traceback", "Error(", "None –", "error: None", "[Errno", "could not convert", "NoneType",
    "invalid literal", "math domain", "unhashable", "has no attribute", "subscriptable", "<class",
    "codec can't", "not iterable", "to unpack", "Exceeds the limit", "must be ", "object at 0x",
    "expected str",
)  # fmt: skip
_WRITING = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_APPEND
_CHANGES = {
    *("os.rename", "os.remove", "os.mkdir", "os.rmdir", "os.symlink", "os.link", "os.chmod"),
    *("os.truncate", "os.mkfifo", "shutil.copyfile", "shutil.move"),
}


def main() -> None:
    """Serve until the input ends."""
    sandbox = Path(sys.argv[1])
    for name in ("home", "tmp"):
        (sandbox / name).mkdir(parents=True, exist_ok=True)
    os.environ |= {"HOME": str(sandbox / "home"), "TMPDIR": str(sandbox / "tmp")}
    os.environ |= {
        f"XDG_{n}_HOME": str(sandbox / "home" / n) for n in ("CONFIG", "CACHE", "STATE", "DATA")
    }
    answers = os.fdopen(os.dup(1), "w")
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
    os.dup2(1, 2)  # libraries talk; only the answers count
    maker, opener = Maker(sandbox), Opener(sandbox)
    opener.warm_up(maker)
    if no_sockets.available():
        no_sockets.forbid_sockets()
    answers.write("ready\n")
    answers.flush()
    for line in sys.stdin:
        seed, number, sound = map(int, line.split())
        case = maker.make(seed, number, sound=bool(sound))
        answers.write(f"begin {case.kind}, {case.how}{', command' * case.command}\n")
        answers.flush()
        answers.write(json.dumps(opener.open(case)) + "\n")
        answers.flush()


class Opener:
    """Opens cases and watches what happens meanwhile."""

    def __init__(self, sandbox: Path) -> None:
        from PySide6.QtGui import QGuiApplication

        self.sandbox = sandbox
        self.application = QGuiApplication(["fuzz"])
        self.elsewhere: list[str] = []
        self._watching = False
        sys.addaudithook(self._hear)

    def warm_up(self, maker: Maker) -> None:
        """Open one sound file of each kind, so that no case pays for loading a library."""
        for kind, job in _JOBS.items():
            place = maker.cut if kind in CUT_PLACES else maker.sound
            path = place / (PLACES | CUT_PLACES).get(kind, "song.wav")
            for command in (False, True):
                try:
                    case = Case(0, kind, "", place, path, command)
                    (_command if command else job)(case)
                except Exception:
                    pass
            for left in (self.sandbox / "tmp").iterdir():
                shutil.rmtree(left) if left.is_dir() else left.unlink()

    def open(self, case: Case) -> dict[str, Any]:
        """Open one case."""
        before = _state(self.sandbox / "outside"), _state(case.folder)
        self.elsewhere = []
        _forget_peak()
        outcome, detail = "clean", ""
        self._watching = True
        wall, busy, queued, crowded = time.perf_counter(), _busy(), _queued(), _crowded()
        try:
            detail = (_command if case.command else _JOBS[case.kind])(case)
            outcome = "fault" if detail else "clean"
        except BaseException:
            outcome, detail = "traceback", traceback.format_exc(limit=-6)
        wall, busy = time.perf_counter() - wall, _busy() - busy
        wall -= _queued() - queued  # another program's time, not this one's
        crowded = _crowded() - crowded
        self._watching = False
        peak = _peak()
        if outcome == "fault" and (odd := _odd(detail)):
            outcome, detail = "traceback", f"{odd}: {detail[:2000]}"
        changed = [*self.elsewhere, *self._changes(case, before)]
        return {
            **asdict(case), "folder": "", "path": case.path.name, "outcome": outcome,
            "detail": detail[-3000:], "wall": wall, "busy": busy, "crowded": crowded, "peak": peak,
            "changed": changed,
        }  # fmt: skip

    def _changes(self, case: Case, before: tuple[dict[str, str], dict[str, str]]) -> Iterator[str]:
        if _state(self.sandbox / "outside") != before[0]:
            yield "outside the folder"
        now = _state(case.folder)
        for name in sorted(
            set(now) ^ set(before[1]) | {n for n in now if now[n] != before[1].get(n)}
        ):
            if not Path(name).name.startswith(_LOGBOOK):
                yield f"in the folder: {name}"
        yield from (f"left behind: {path.name}" for path in (self.sandbox / "tmp").iterdir())

    def _hear(self, event: str, arguments: tuple[Any, ...]) -> None:
        if not self._watching:
            return
        if event == "open" and (arguments[2] or 0) & _WRITING:
            self._judge(event, arguments[0])
        elif event in _CHANGES:
            # Where a folder is given by its handle, that stands last.
            place = arguments[-1] if isinstance(arguments[-1], int) else -1
            for argument in arguments[:2]:
                self._judge(event, argument, place)
        elif event == "socket.__new__":
            self.elsewhere.append("a socket")

    def _judge(self, event: str, path: Any, place: int = -1) -> None:
        if not isinstance(path, str | bytes | os.PathLike):
            return
        folder = os.readlink(f"/proc/self/fd/{place}") if place >= 0 else ""
        name = os.path.abspath(os.path.join(folder, os.fsdecode(path)))
        if not name.startswith((f"{self.sandbox}{os.sep}", "/dev/null", "/dev/shm")):
            self.elsewhere.append(f"{event} {name}")


def _busy() -> float:
    """Seconds of processor of this process, all its threads and children."""
    children = resource.getrusage(resource.RUSAGE_CHILDREN)
    return time.process_time() + children.ru_utime + children.ru_stime


def _queued() -> float:
    """Seconds that this thread was ready to run and another one had the processor (proc(5))."""
    try:
        return int(Path("/proc/thread-self/schedstat").read_text().split()[1]) / 1e9
    except (OSError, IndexError, ValueError):
        return 0.0


def _crowded() -> float:
    """Seconds since the start in which something waited for a processor (Linux: psi)."""
    try:
        return int(Path("/proc/pressure/cpu").read_text().split()[4].removeprefix("total=")) / 1e6
    except (OSError, IndexError, ValueError):
        return 0.0


def _forget_peak() -> None:
    with contextlib.suppress(OSError):  # the peak of all cases then, which can only be larger
        Path("/proc/self/clear_refs").write_text("5")


def _peak() -> int:
    """Bytes held at most since the peak was forgotten."""
    for line in Path("/proc/self/status").read_text().splitlines():
        if line.startswith("VmHWM:"):
            return int(line.split()[1]) * 1024
    return 0


def _state(folder: Path) -> dict[str, str]:
    """Every file in a folder with a mark of its content."""
    found = {}
    for place, _, names in os.walk(folder):
        for name in names:
            path = Path(place, name)
            try:
                status = path.lstat()
                small = path.is_file() and not path.is_symlink() and status.st_size < 2_000_000
                mark = hashlib.sha1(path.read_bytes()).hexdigest() if small else status.st_mtime_ns
            except OSError as error:
                mark = str(error)
            found[str(path.relative_to(folder))] = f"{status.st_mode} {status.st_size} {mark}"
    return found


def _odd(detail: str) -> str:
    """What is wrong with the sentences of a fault; empty when they can be shown."""
    if SECRET.decode() in detail:
        return "tells what stands outside the folder"
    for line in detail.splitlines():
        if len(line) > _LONGEST_LINE:
            return f"a sentence of {len(line)} letters"
        if not line.rstrip().endswith((".", "?", "!")):
            return "no sentence"
        if any(word in line for word in _RAW):
            return "no plain words"
    return ""


# -- what is done with each kind ----------------------------------------------------------------


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
        save_folder(copy, back, source.beatmap)
        if (again := open_folder(copy)).routine != back or again.beatmap != source.beatmap:
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


def _command(case: Case) -> str:
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


_JOBS: dict[str, Callable[[Case], str]] = {
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

if __name__ == "__main__":
    main()

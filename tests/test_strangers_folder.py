"""A stranger's folder opens no socket, and neither reads nor writes outside itself.

Each trick is a folder of its own, opened whole – routine, rules, thresholds, pictures, song,
voice, logbook, copy, zip – in a process that the kernel ends when it opens a socket, while the
kernel tells of every file that is opened or changed in the folder beside it.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest

from tests.helpers import no_sockets, watch
from tests.helpers.fuzz.cases import LISTS, journal_naming
from tests.helpers.fuzz.seeds import make_folder

ROOT = Path(__file__).parents[1]
OUT = "../outside/secret"
PICTURE = "pictures/lantern.png"
ADDRESS = "http://127.0.0.1:9/x"
SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" xmlns:x="http://www.w3.org/1999/xlink">'
    '<image width="9" height="9" x:href="{}"/></svg>'
)
HEAD = "format: 1\ntitle: Hand\ntrack: {}\nposes: []\n"
OWN = HEAD.format("song.wav") + "own_poses:\n- name: lantern\n  picture: {}\n"

pytestmark = pytest.mark.skipif(
    not (no_sockets.available() and watch.available()), reason="needs seccomp and inotify (Linux)"
)


def put(folder: Path, name: str, data: bytes) -> None:
    (folder / name).unlink(missing_ok=True)
    (folder / name).write_bytes(data)


def link(folder: Path, name: str, to: str = "secret") -> None:
    path = folder / name
    if path.is_dir() and not path.is_symlink():
        shutil.rmtree(path)
    path.unlink(missing_ok=True)
    path.symlink_to(os.path.relpath(folder.parent / "outside" / to, path.parent))


def journal(folder: Path) -> None:
    """A journal that names another file, which SQLite reads and then deletes (file format, 3)."""
    name = str(folder.parent / "outside" / "secret").encode()
    logbook = folder / "practice.sqlite"
    db = sqlite3.connect(logbook)
    db.execute("PRAGMA journal_mode = DELETE")
    db.close()
    put(folder, "practice.sqlite-journal", journal_naming(name, logbook))


def attach(folder: Path) -> None:
    """A trigger that would write another database, had it been allowed to name one."""
    db = sqlite3.connect(folder / "practice.sqlite")
    other = folder.parent / "outside" / "secret"
    for text in (
        "CREATE TRIGGER a AFTER INSERT ON passes BEGIN DELETE FROM passes; END",
        f"CREATE VIEW b AS SELECT load_extension('{other}')",
        f"CREATE TRIGGER c AFTER INSERT ON sessions BEGIN SELECT writefile('{other}', 'x'); END",
    ):
        db.execute(text)
    db.commit()
    db.close()


TRICKS = {
    **{f"link {n}": (lambda f, n=n: link(f, n)) for n in (
        "routine.yaml", "beats.yaml", "checks.yaml", "remarks.yaml", "rules/club.yaml", "song.wav",
        "voice/5.wav",
        "pictures/lantern.png", "practice.sqlite", "practice.sqlite-wal", "practice.sqlite-shm",
        "versions/routine 2026-11-25T100000.000000Z.yaml",
    )},
    **{f"linked {n}": (lambda f, n=n: link(f, n, ".")) for n in (
        "rules", "voice", "pictures", "versions", "practice.sqlite",
    )},
    **{f"track {n}": (lambda f, n=n: put(f, "routine.yaml", HEAD.format(n).encode())) for n in (
        OUT, "/etc/hostname", "file:///etc/hostname", ADDRESS, "concat:song.wav|song.wav",
        "subfile,,start,0,end,9,,:song.wav", "/dev/zero", "tcp://127.0.0.1:9", "pipe:0", "cache:x",
    )},
    **{f"picture {n}": (lambda f, n=n: put(f, "routine.yaml", OWN.format(n).encode())) for n in (
        OUT, "/etc/hostname", "file:///etc/hostname", ADDRESS, ":/qt-project.org", "qrc:/x",
    )},
    **{f"song {k}": (lambda f, d=d: put(f, "song.wav", d)) for k, d in enumerate(LISTS)},
    **{f"voice {k}": (lambda f, d=d: put(f, "voice/5.wav", d)) for k, d in enumerate(LISTS)},
    **{f"svg {n}": (lambda f, n=n: put(f, PICTURE, SVG.format(n).encode())) for n in (
        OUT, ADDRESS, "file:///etc/hostname",
    )},
    "journal": journal,
    "attach": attach,
}  # fmt: skip

#: Opens every folder named on standard input with all it holds, in a process without sockets.
OPENS = """
import sys, tempfile
from datetime import date
from pathlib import Path
from rehearse.cueing.voice.recordings import find_recordings, load_recording
from rehearse.files.user_error import UserError
from rehearse.handout.sheet import drawings
from rehearse.music.decode import load_track
from rehearse.practice.logbook import Logbook
from rehearse.routine.folder import open_folder
from rehearse.routine.remarks import load_remarks
from rehearse.routine.report import report
from rehearse.routine.rules import sound_rules
from rehearse.routine.merge import import_files, common_save
from rehearse.ui.figure.pose_thumbs import photo_of
from PySide6.QtGui import QGuiApplication
from tests.helpers.no_sockets import forbid_sockets

application = QGuiApplication(["test"])
forbid_sockets()

def tried(function, *arguments):
    try:
        return function(*arguments)
    except UserError as error:
        return print("FAULT", error.sentence)

def logbook(folder):
    with Logbook(folder / "practice.sqlite", fallback=folder.parent / "spare.sqlite") as book:
        book.history()

for line in sys.stdin:
    folder = Path(line.strip())
    opened = tried(open_folder, folder)
    sound_rules(folder) if opened else None
    tried(load_remarks, folder)
    if opened:
        tried(report, opened)
        tried(load_track, folder / opened.routine.track)
        for text, path in find_recordings(folder / "voice").items():
            tried(load_recording, path, text)
        for own in opened.routine.own_poses:
            photo_of(folder / own.picture, 200)
            try:
                drawings.photo(folder, own.picture)
            except drawings.DAMAGE:
                pass
        tried(common_save, folder, folder, opened.beatmap)
        with tempfile.TemporaryDirectory() as mine:
            tried(import_files, opened.routine, Path(mine), opened)
        tried(logbook, folder)
    print("DONE", flush=True)
"""


@pytest.fixture(scope="module")
def opener(tmp_path_factory):
    home = tmp_path_factory.mktemp("home")
    environment = {
        **os.environ, "PYTHONPATH": str(ROOT), "QT_QPA_PLATFORM": "offscreen", "HOME": str(home),
        "XDG_CONFIG_HOME": str(home), "XDG_STATE_HOME": str(home), "XDG_CACHE_HOME": str(home),
    }  # fmt: skip
    process = subprocess.Popen(
        [sys.executable, "-c", OPENS], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
        cwd=ROOT, env=environment,
    )  # fmt: skip
    yield process
    process.stdin.close()
    process.wait(20)
    process.stdout.close()


@pytest.fixture(scope="module")
def sound(tmp_path_factory):
    folder = tmp_path_factory.mktemp("sound") / "theirs"
    make_folder(folder)
    return folder


def open_all(opener, folder):
    """Open a folder; what was said, or None where the process was ended."""
    opener.stdin.write(f"{folder}\n")
    opener.stdin.flush()
    told = []
    while line := opener.stdout.readline():
        if line == "DONE\n":
            return told
        told.append(line)
    pytest.fail(f"the process ended with {opener.wait(10)}; −31: it opened a socket")


def test_the_watch_and_the_ban_notice(tmp_path):
    """Neither can pass for want of noticing."""
    (tmp_path / "secret").write_text("x")
    seen = watch.Watch(tmp_path)
    (tmp_path / "secret").stat()
    assert seen.events() == []
    (tmp_path / "secret").read_text()
    assert "opened secret" in seen.events()
    seen.close()
    code = "from tests.helpers.no_sockets import forbid_sockets\nimport socket\nforbid_sockets()\n"
    code += "socket.socket(socket.AF_INET, socket.SOCK_DGRAM)"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=False)
    assert done.returncode == -31  # SIGSYS


def test_a_sound_folder_opens_without_a_word(opener, sound):
    assert open_all(opener, sound) == []


@pytest.mark.parametrize("trick", TRICKS)
def test_a_trick_opens_no_socket_and_touches_nothing_outside(opener, sound, tmp_path, trick):
    folder, outside = tmp_path / "theirs", tmp_path / "outside"
    shutil.copytree(sound, folder)
    (folder / "versions").mkdir(exist_ok=True)
    outside.mkdir()
    (outside / "secret").write_text("format: 1\nname: the neighbour's words\n")
    TRICKS[trick](folder)
    seen = watch.Watch(outside)
    told = "".join(open_all(opener, folder))
    assert seen.events() == []
    seen.close()
    assert "neighbour" not in told
    assert [p.name for p in outside.iterdir()] == ["secret"]
    assert (outside / "secret").read_text() == "format: 1\nname: the neighbour's words\n"


#: The window with that folder, every page looked at, until the song was read or refused.
WINDOW = """
import sys
from pathlib import Path
from PySide6.QtCore import QTimer
from rehearse.app import make_application
from rehearse.ui.workspace import Workspace
from rehearse.ui.settings import Settings
from rehearse.ui.window import Window
from tests.helpers.no_sockets import forbid_sockets

folder = Path(sys.argv[1])
application = make_application(["rehearse"])
forbid_sockets(local=True)
workspace = Workspace(Settings(folder.parent / "settings.ini"))
told = []
workspace.errorRaised.connect(told.append)
workspace.trackChanged.connect(lambda: told.append("read") if workspace.track else None)
window = Window(workspace)
window.painted.connect(workspace.finish_start)
window.show()
workspace.open(folder)
def look():
    told.append("ready")
    for number in range(4):
        window.show_page(number)
        application.processEvents()
def done():
    if "ready" not in told:
        look()
    if not workspace.jobs:
        application.quit()
timer = QTimer(interval=200)
timer.timeout.connect(done)
timer.start()
application.exec()
window.close()
workspace.close()
print("\\n".join(filter(None, told)))
"""


def test_the_window_opens_a_strangers_folder_without_a_socket(sound, tmp_path):
    """Its workers inherit the ban; one that broke it would be told as a process that ended."""
    folder = tmp_path / "theirs"
    shutil.copytree(sound, folder)
    for name, data in (("song.wav", LISTS[1]), ("voice/5.wav", LISTS[0]), (PICTURE, LISTS[3])):
        put(folder, name, data)
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "QT_QPA_PLATFORM": "offscreen"}
    environment |= {f"XDG_{n}_HOME": str(tmp_path) for n in ("CONFIG", "STATE", "CACHE")}
    done = subprocess.run(
        [sys.executable, "-c", WINDOW, str(folder)], capture_output=True, text=True, check=False,
        cwd=ROOT, env=environment, timeout=120,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert "is a list of other files" in done.stdout
    assert "isn't a readable image" in done.stdout
    assert "ended unexpectedly" not in done.stdout

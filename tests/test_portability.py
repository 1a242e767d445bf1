"""What only works on Linux has a way round, as far as reading the sources can tell.

Nothing here ran on Windows or on a Mac. Each name that Python's library reference marks
"Availability: Unix" (or Linux), and each path, tool or variable of Linux, may stand only in a file
that this list names together with its way round.
"""

from __future__ import annotations

import ast
import functools
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from rehearse.files.processes import is_running

ROOT = Path(__file__).resolve().parent.parent
SOURCES = sorted((ROOT / "rehearse").rglob("*.py"))

#: Modules, names of `os`, `signal`, `select`, `time` and `socket` that Windows or macOS lack
#: (Python Library Reference, "Availability").
MODULES = {
    *("fcntl", "grp", "posix", "pty", "pwd", "resource", "syslog", "termios", "tty", "winreg"),
    *("msvcrt", "pulsectl", "dbus", "gi"),
}
LACKING = {
    "os": {
        *("fork", "forkpty", "nice", "getuid", "geteuid", "getgid", "getegid", "getgroups"),
        *("setsid", "setpgid", "getpgid", "killpg", "kill", "mkfifo", "mknod", "uname", "sysconf"),
        *("getloadavg", "sched_setscheduler", "sched_getaffinity", "sched_setaffinity"),
        *("sched_param", "getpriority", "setpriority", "wait", "wait3", "wait4", "memfd_create"),
        *("pipe2", "posix_spawn", "statvfs", "fchmod", "fchown", "chown", "lchown", "sendfile"),
        *("set_blocking", "posix_fallocate", "splice", "eventfd", "pidfd_open", "ttyname"),
        *("O_NONBLOCK", "O_CLOEXEC", "O_NOCTTY", "O_DIRECTORY", "O_NOFOLLOW", "O_PATH"),
        *("SCHED_RR", "SCHED_OTHER", "SCHED_FIFO", "PRIO_PROCESS", "fdatasync", "sync"),
    },
    "signal": {
        *("SIGHUP", "SIGKILL", "SIGALRM", "SIGUSR1", "SIGUSR2", "SIGXCPU", "SIGCHLD", "SIGPIPE"),
        *("alarm", "setitimer", "pause", "pthread_kill", "sigwait", "siginterrupt"),
    },
    "select": {"poll", "epoll", "kqueue", "devpoll"},
    "time": {"clock_gettime", "CLOCK_BOOTTIME", "CLOCK_MONOTONIC", "tzset"},
    "socket": {"AF_UNIX", "socketpair"},
    "ctypes": {"windll", "oledll", "WinDLL"},
}
#: Of those, what is nothing else where it stands as a text, as in `getattr`.
_BY_NAME = {n for names in LACKING.values() for n in names if n.isupper() or "_" in n}
#: What a text in the code may not be, or begin with, without a way round.
TEXTS = re.compile(
    r"/(?:proc|dev|sys|usr|etc|tmp|run|home|var|opt|bin|sbin)(?:/|$)|XDG_|LD_LIBRARY|~/"
    r"|\.so(?:\.|$)|org\.freedesktop"
)
#: File under `rehearse/`: the way round.
WAYS_ROUND = {
    "files/door.py": "flags that a system lacks count as nothing",
    "files/hold.py": "without locks one window does not see another; saving looks before it writes",
    "files/processes.py": "Windows is asked by its own calls",
    "work/child.py": "asks for each name first; Windows gets a blocking pipe and a writer thread",
    "work/shared.py": "the temporary folder where there is no memory file system",
    "work/urgency.py": "returns at once elsewhere: ordinary priority",
    "playback/engine.py": "without that clock the machine counts as never asleep",
    "playback/output_watch.py": "returns at once elsewhere: the device's own watch says it is gone",
    "handout/sheet/machine.py": "font folders of Windows and macOS",
    "ui/awake.py": "calls of Windows and macOS of their own",
    "ui/ending.py": "names a system lacks are left out; a timer where signals cannot wake Qt",
    "ui/menu_entry.py": "one sentence elsewhere: make a shortcut",
    "words.py": "each system is asked for its language, and where settings are, in its own way",
}
#: Programs of the system: where they are missing, the file says what happens then.
TOOLS = {
    "handout/sheet/machine.py": "fc-list",
    "ui/awake.py": "caffeinate",
    "ui/menu_entry.py": "desktop tools",
    "work/child.py": "itself",
    "work/urgency.py": "busctl",
}


def _place(path):
    return path.relative_to(ROOT / "rehearse").as_posix()


def _docstrings(tree):
    """The nodes that are documentation: what they say does nothing."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef):
            first = node.body[0] if node.body else None
            if isinstance(first, ast.Expr) and isinstance(first.value, ast.Constant):
                yield first.value


#: What a file must hold to be worth parsing, which takes its time.
_WORTH = re.compile(
    r"\b(?:{})\b|/(?:proc|dev|sys|usr|etc|tmp|run|home|var|opt|bin|sbin)|XDG_|LD_LIB|~/|\.so"
    r"|org\.free|read_text|write_text|open\(|subprocess|os\.".format(
        "|".join([*MODULES, *(n for names in LACKING.values() for n in names)])
    )
)


@functools.cache
def trees():
    """Every source file that may hold something of this kind, parsed, by its place."""
    texts = ((_place(p), p.read_text(encoding="utf-8")) for p in SOURCES)
    return {place: ast.parse(text) for place, text in texts if _WORTH.search(text)}


@functools.cache
def calls():
    """Every call in every file: place, node."""
    nodes = ((place, node) for place, tree in trees().items() for node in ast.walk(tree))
    return [(place, node) for place, node in nodes if isinstance(node, ast.Call)]


def _linux_only(tree):
    """Each use of what another system lacks: line and name."""
    said = set(map(id, _docstrings(tree)))
    for node in ast.walk(tree):
        if isinstance(node, ast.Import | ast.ImportFrom):
            names = [a.name for a in node.names] if isinstance(node, ast.Import) else [node.module]
            top = {(name or "").partition(".")[0] for name in names}
            yield from ((node.lineno, name) for name in sorted(top & MODULES))
            lacking = LACKING.get(getattr(node, "module", "") or "", ())
            yield from ((node.lineno, a.name) for a in node.names if a.name in lacking)
        elif isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
            if node.attr in LACKING.get(node.value.id, ()):
                yield node.lineno, f"{node.value.id}.{node.attr}"
        elif id(node) not in said and _is_suspect(node):
            yield node.lineno, repr(node.value)


def _is_suspect(node):
    text = node.value if isinstance(node, ast.Constant) else None
    return isinstance(text, str) and bool(TEXTS.match(text) or text in _BY_NAME)


@pytest.mark.parametrize(
    "line",
    [
        *("import fcntl", "import os\nos.fork()", "from os import nice", "open('/proc/self/maps')"),
        *("import signal\nsignal.signal(signal.SIGHUP, f)", "x = 'XDG_DATA_HOME'"),
        "getattr(os, 'sched_setscheduler')",
    ],
)
def test_the_reader_finds_what_only_linux_has(line):
    assert list(_linux_only(ast.parse(line)))


def test_what_only_linux_has_stands_only_where_there_is_a_way_round():
    found = {}
    for place, tree in trees().items():
        if uses := list(_linux_only(tree)):
            found[place] = uses
    strangers = {place: uses for place, uses in found.items() if place not in WAYS_ROUND}
    assert not strangers
    assert set(WAYS_ROUND) == set(found)  # nothing is listed that is no longer there


def test_programs_of_the_system_are_started_only_where_one_may_be_missing():
    names = ("subprocess.Popen", "subprocess.run", "os.system", "os.execv", "os.startfile")
    starting = {place for place, node in calls() if ast.unparse(node.func) in names}
    assert starting == set(TOOLS)


def test_text_files_are_read_and_written_in_utf_8_whatever_the_system_prefers():
    missing = []
    for place, node in calls():
        if any(k.arg == "encoding" for k in node.keywords):
            continue
        function = node.func
        name = function.attr if isinstance(function, ast.Attribute) else ""
        name = function.id if isinstance(function, ast.Name) else name
        texts = [a.value for a in node.args if isinstance(a, ast.Constant)]
        if name == "read_text" and "utf-8" in texts:
            continue
        if name in ("read_text", "write_text") or (name == "open" and _is_text(node, texts)):
            missing.append(f"{place}:{node.lineno}")
    assert missing == []


def _is_text(node, texts):
    """Whether a call of `open` opens a file of text; zips, sound and folders have others."""
    function = node.func
    if isinstance(function, ast.Attribute) and not (
        texts and not node.args[1:] and _is_mode(texts)
    ):
        return False
    return not any(isinstance(t, str) and "b" in t and len(t) < 4 for t in texts)


def _is_mode(texts):
    return re.fullmatch("[rwxa]t?[+]?", str(texts[0])) is not None


def test_file_dialogs_are_qts_own_which_are_the_systems():
    for path in SOURCES:
        source = path.read_text(encoding="utf-8")
        for word in ("zenity", "kdialog", "tkinter", "osascript", "portal"):
            assert word not in source, path


def test_where_linux_modules_are_missing_everything_is_still_imported():
    """The modules that only Unix has cannot be imported, the names of `os` are gone."""
    done = subprocess.run(
        [sys.executable, "-c", _BARE],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT), "PYTHONUTF8": "0"},
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
    assert "imported" in done.stdout


_BARE = f"""
import sys, os, signal, select, time, importlib, pkgutil
import subprocess, multiprocessing, tempfile, numpy, platformdirs, PIL.Image, scipy.fft, yaml
import PySide6.QtWidgets, PySide6.QtSvg, PySide6.QtDBus, reportlab.pdfbase.ttfonts, sqlite3
import logging.handlers, av, soundfile, faulthandler, zipfile, csv
gone = {sorted(MODULES - {"winreg", "msvcrt"})!r}
for name in gone:
    sys.modules[name] = None
for module, names in {LACKING!r}.items():
    if module in ("os", "signal", "select", "time"):
        there = sys.modules[module]
        for name in names - {{"O_CLOEXEC", "set_blocking", "kill", "getuid", "pipe2"}}:
            if hasattr(there, name):
                delattr(there, name)
import rehearse
for found in pkgutil.walk_packages(rehearse.__path__, "rehearse."):
    if not found.name.endswith("__main__"):
        importlib.import_module(found.name)
from rehearse.work.urgency import raise_priority
from rehearse.files.hold import Hold
from pathlib import Path
sys.platform = "win32"
assert raise_priority() == ""
hold = Hold(Path({str(ROOT / "demo")!r}))
assert hold.take() and hold.held
hold.release()
print("imported")
"""


def test_a_terminal_that_lacks_a_sign_does_not_stop_a_command(tmp_path):
    """Windows writes to files and pipes in its old code page: here cp1252, which has no half-hour
    of signs the program prints.
    """
    folder = shutil.copytree(ROOT / "demo" / "copper-lights", tmp_path / "routine")
    text = (folder / "routine.yaml").read_text(encoding="utf-8")
    (folder / "routine.yaml").write_text(text.replace("Copper", "Źródło → ♥"), encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-m", "rehearse", "check", str(folder)],
        cwd=ROOT,
        env={**os.environ, "PYTHONIOENCODING": "cp1252"},
        capture_output=True,
    )
    assert done.returncode in (0, 1), done.stderr
    assert b"?" in done.stdout


def test_windows_is_asked_whether_a_process_runs(monkeypatch):
    """OpenProcess with PROCESS_QUERY_LIMITED_INFORMATION (0x1000) and GetExitCodeProcess, which
    tells STILL_ACTIVE (259): Microsoft's documentation of processthreadsapi.h. With a stand-in.
    """
    import ctypes
    from types import SimpleNamespace

    def exit_code(handle, status):
        status._obj.value = {7: 259, 8: 0}[handle]
        return 1

    kernel = SimpleNamespace(
        OpenProcess=lambda rights, inherit, process: {11: 7, 12: 8}.get(process, 0),
        GetExitCodeProcess=exit_code,
        CloseHandle=lambda handle: 1,
    )
    monkeypatch.setattr(ctypes, "windll", SimpleNamespace(kernel32=kernel), raising=False)
    monkeypatch.setattr(sys, "platform", "win32")
    assert [is_running(number) for number in (11, 12, 13)] == [True, False, False]


@pytest.mark.skipif(os.name != "posix", reason="numbers as Unix gives them")
def test_a_running_process_is_seen_and_a_dead_one_is_not():
    assert is_running(os.getpid())
    dead = subprocess.Popen([sys.executable, "-c", ""])
    dead.wait()
    assert not is_running(dead.pid)
    assert not is_running(2**40)

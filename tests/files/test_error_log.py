"""The log of faults: versions and places in the code, bounded, nothing private in it."""

import errno
import logging
import subprocess
import sys

import pytest

from rehearse.files import error_log
from rehearse.files.error_log import end_log, log_folder, place_of, plain_path, start_log

SECRET = "Lanterns for Mira"
pytestmark = pytest.mark.expects_log


@pytest.fixture
def log():
    handler = start_log()
    yield logging.getLogger("rehearse.test")
    end_log(handler)


def written():
    return "".join(p.read_text() for p in sorted(log_folder().glob("rehearse.log*")))


def fail_with_private_words():
    try:
        raise ValueError(f"cannot read {SECRET}")
    except ValueError as error:
        raise OSError(errno.ENOSPC, "no room", f"/home/mira/{SECRET}.yaml") from error


def test_places_kinds_and_versions_are_written_and_no_text(log):
    try:
        fail_with_private_words()
    except OSError:
        log.exception("while saving %s", SECRET)
    text = written()
    assert "rehearse 0." in text
    assert "Python 3." in text
    assert "OSError ENOSPC" in text
    assert "ValueError" in text
    assert "test_error_log.py" in text
    assert "fail_with_private_words" in text
    assert "while saving %s" in text
    for private in (SECRET, "mira", "/home", str(log_folder())):
        assert private not in text


def test_a_trace_from_another_process_keeps_its_places_only(log):
    trace = (
        "Traceback (most recent call last):\n"
        '  File "/home/mira/rehearse/playback/engine.py", line 12, in run\n'
        f"    raise ValueError('{SECRET}')\n"
        f"ValueError: {SECRET}\n"
    )
    log.error("the playback process failed\n%s", trace)
    text = written()
    assert "rehearse/playback/engine.py:12 run" in text
    assert "ValueError" in text
    assert SECRET not in text
    assert "mira" not in text


def test_it_is_turned_over_and_bounded(log, monkeypatch):
    for handler in logging.getLogger("rehearse").handlers:
        if isinstance(handler, error_log._Log):
            monkeypatch.setattr(handler, "maxBytes", 2000)
    for k in range(500):
        log.error("fault number %s", k)
    files = list(log_folder().glob("rehearse.log*"))
    assert len(files) == 1 + error_log.EARLIER
    assert "fault number 499" in written()
    assert sum(p.stat().st_size for p in files) < 3 * 2500
    assert all(p.read_text().startswith("rehearse ") for p in files)


def test_a_place_that_cannot_be_written_makes_no_second_fault(monkeypatch, tmp_path):
    (tmp_path / "file").touch()
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "file"))
    assert start_log() is None
    logging.getLogger("rehearse.test").error("nobody hears it")
    end_log(None)


def test_the_end_of_a_process_the_system_ended_is_in_the_log(log):
    code = (
        "import ctypes; from rehearse.files.error_log import start_log\n"
        "start_log(); ctypes.string_at(0)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=False)
    assert done.returncode != 0
    again = start_log()
    end_log(again)
    assert "ended by the system" in written()
    assert "Segmentation fault" in written() or "string_at" in written()
    assert list(log_folder().glob("crash-*.txt")) == []


def test_the_same_fault_with_another_text_is_the_same():
    places = set()
    for text in ("one", "two"):
        try:
            raise KeyError(text)
        except KeyError as error:
            places.add(place_of(error))
    assert len(places) == 1


@pytest.mark.parametrize(
    ("path", "plain"),
    [
        ("/home/mira/x/.venv/lib/python3.11/site-packages/av/codec.py", "av/codec.py"),
        ("/home/mira/rehearse/rehearse/ui/workspace.py", "rehearse/ui/workspace.py"),
        ("/usr/lib/python3.11/threading.py", "threading.py"),
        ("<frozen runpy>", "<frozen runpy>"),
    ],
)
def test_paths_begin_at_their_package(path, plain):
    assert plain_path(path) == plain

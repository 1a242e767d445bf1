"""The screen stays awake while the music plays: seen on a session bus of our own.

org.freedesktop.ScreenSaver, method Inhibit (Idle Inhibition Service, freedesktop.org draft): an
inhibition ends when the connection that asked for it is closed.
"""

import ctypes
import os
import shutil
import subprocess
import sys
import time
from types import SimpleNamespace

import pytest

from rehearse.ui.awake import Awake

CODE = """
import os, sys, time
from PySide6.QtCore import QCoreApplication
from rehearse.ui.awake import Awake
app = QCoreApplication([])
awake = Awake()
awake.set_wanted(True)
awake.set_wanted(True)
held = awake.held
time.sleep(0.5)
awake.set_wanted(False)
print(held, awake.held, flush=True)
time.sleep(0.5)
"""


def run(environment):
    return subprocess.run(
        [sys.executable, "-c", CODE],
        env=environment,
        capture_output=True,
        text=True,
        timeout=30,
        check=True,
    ).stdout.split()


@pytest.mark.skipif(shutil.which("dbus-daemon") is None, reason="needs dbus-daemon")
def test_it_asks_once_and_lets_go_by_closing_its_connection(tmp_path):
    address = f"unix:path={tmp_path}/bus"
    bus = subprocess.Popen(
        ["dbus-daemon", "--session", "--nofork", f"--address={address}", "--print-address"],
        stdout=subprocess.PIPE,
        text=True,
    )
    assert bus.stdout is not None
    bus.stdout.readline()
    environment = os.environ | {"DBUS_SESSION_BUS_ADDRESS": address}
    monitor = subprocess.Popen(
        ["dbus-monitor", "--address", address], stdout=subprocess.PIPE, text=True
    )
    assert monitor.stdout is not None
    for line in monitor.stdout:  # it has become a monitor
        if "NameLost" in line or "NameAcquired" in line:
            break
    try:
        assert run(environment) == ["True", "False"]
    finally:
        monitor.terminate()
        heard = monitor.stdout.read()
        monitor.wait()
        bus.terminate()
        bus.wait()
        bus.stdout.close()
        monitor.stdout.close()
    assert heard.count("interface=org.freedesktop.ScreenSaver; member=Inhibit") == 1
    assert "a routine is being rehearsed" in heard


def test_without_a_bus_it_is_quiet(tmp_path):
    address = f"unix:path={tmp_path}/none"
    assert run(os.environ | {"DBUS_SESSION_BUS_ADDRESS": address}) == ["False", "False"]


def test_windows_is_told_by_its_own_call(monkeypatch):
    """SetThreadExecutionState (winbase.h): ES_CONTINUOUS 0x80000000, ES_SYSTEM_REQUIRED 1,
    ES_DISPLAY_REQUIRED 2; it returns the state before, 0 where it failed. Run on Linux with a
    stand-in: untested on Windows.
    """
    told = []
    kernel = SimpleNamespace(SetThreadExecutionState=lambda state: told.append(state) or 0x80000000)
    monkeypatch.setattr(sys, "platform", "win32")
    monkeypatch.setattr(ctypes, "windll", SimpleNamespace(kernel32=kernel), raising=False)
    awake = Awake()
    for wanted in (True, True, False):
        awake.set_wanted(wanted)
        assert awake.held == wanted
    assert told == [0x80000003, 0x80000000]


@pytest.mark.skipif(os.name != "posix", reason="needs a shell")
def test_a_mac_is_told_by_its_own_command(monkeypatch, tmp_path):
    """caffeinate(8): -d the display, -i idle sleep, -w until that process is gone. With a stand-in
    of that name: untested on a Mac.
    """
    command, told = tmp_path / "caffeinate", tmp_path / "told"
    command.write_text(
        f'#!/bin/sh\necho "$@" > {told}.part; mv {told}.part {told}; exec sleep 60\n'
    )
    command.chmod(0o755)
    monkeypatch.setattr(sys, "platform", "darwin")
    monkeypatch.setenv("PATH", f"{tmp_path}:{os.environ['PATH']}")
    awake = Awake()
    awake.set_wanted(True)
    process = awake._command
    deadline = time.monotonic() + 10
    while not told.exists() and time.monotonic() < deadline:
        time.sleep(0.01)
    assert told.read_text().split() == ["-d", "-i", "-w", str(os.getpid())]
    assert awake.held
    awake.set_wanted(False)
    assert not awake.held
    assert process.poll() is not None

"""The screen stays awake while the music plays: seen on a session bus of our own.

org.freedesktop.ScreenSaver, method Inhibit (Idle Inhibition Service, freedesktop.org draft): an
inhibition ends when the connection that asked for it is closed.
"""

import os
import shutil
import subprocess
import sys

import pytest

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

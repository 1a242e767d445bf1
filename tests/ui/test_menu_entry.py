"""The menu entry, its icons and file types: by the desktop's own tools where they are installed.

The expected places are those of the Desktop Entry, Icon Theme, Shared MIME-info and AppStream
specifications (freedesktop.org).
"""

from __future__ import annotations

import configparser
import os
import shutil
import subprocess
import sys
import xml.etree.ElementTree as ET
import zipfile
from pathlib import Path

import pytest
from PySide6.QtCore import QCoreApplication, QUrl
from PySide6.QtGui import QFileOpenEvent, QImage

from rehearse import __version__, app, cli
from rehearse.ui import menu_entry
from rehearse.ui.menu_entry import ID, SIZES
from rehearse.ui.workspace import Workspace

from .made import DEMO, PromptWorkers

linux = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="a menu of Linux desktops")


def tool(name):
    if shutil.which(name) is None:
        pytest.skip(f"{name} is not installed")
    return name


@pytest.fixture
def place(tmp_path, monkeypatch):
    """A data folder of nobody, beside nothing else of this machine."""
    place = tmp_path / "data"
    monkeypatch.setenv("XDG_DATA_HOME", str(place))
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    return place


@linux
def test_installing_and_removing_leaves_nothing_behind(place, capsys):
    assert cli.main(["install-menu-entry"]) == 0
    written = [Path(line) for line in capsys.readouterr().out.splitlines()[:-1]]
    assert len(written) == 4 + len(SIZES)
    assert all(path.is_file() and path.is_relative_to(place) for path in written)
    assert cli.main(["install-menu-entry"]) == 0  # again, over itself
    assert cli.main(["install-menu-entry", "--remove"]) == 0
    assert not [p for p in place.rglob(f"{ID}*") if p.is_file()]
    assert "no longer" in capsys.readouterr().out
    assert cli.main(["install-menu-entry", "--remove"]) == 0
    assert "not in the menu" in capsys.readouterr().out


@linux
def test_every_icon_has_its_size_and_is_drawn(place):
    menu_entry.install()
    for size in SIZES:
        path = place / "icons" / "hicolor" / f"{size}x{size}" / "apps" / f"{ID}.png"
        drawn = QImage(str(path))
        assert (drawn.width(), drawn.height()) == (size, size)
        colours = {drawn.pixelColor(x, y).name() for x in range(size) for y in range(size)}
        assert {"#14100d", "#ffc45a", "#f6efe4"} <= colours  # ground, light and figure
        assert drawn.pixelColor(0, 0).alpha() < 128  # round corners
    scalable = place / "icons" / "hicolor" / "scalable" / "apps" / f"{ID}.svg"
    assert ET.parse(scalable).getroot().tag.endswith("svg")


@linux
@pytest.mark.parametrize(
    "command",
    [
        ("/opt/rehearse/rehearse",),
        ('/home/an athlete/My $Programs/50% "new" `x`\\y/python', "-m", "rehearse"),
    ],
)
def test_the_entry_starts_the_program_with_what_was_clicked(place, command):
    menu_entry.install(command)
    path = place / "applications" / f"{ID}.desktop"
    entry = configparser.RawConfigParser(strict=True)
    entry.optionxform = str
    entry.read(path, encoding="utf-8")
    line = entry["Desktop Entry"]["Exec"]
    # Undone as the specification says: first the string's own escapes, then the quotes, which
    # are a shell's (as POSIX has double quotes), then the field codes.
    printed = "printf '%s\\n' " + line.replace("\\\\", "\\")
    shell = subprocess.run(["sh", "-c", printed], capture_output=True, text=True, check=True)
    parts = shell.stdout.splitlines()
    assert [p.replace("%%", "%") for p in parts] == [*command, "open", "%f"]
    done = subprocess.run([tool("desktop-file-validate"), path], capture_output=True, text=True)
    assert (done.returncode, done.stdout) == (0, "")


def test_the_description_is_one_that_validates_and_tells_this_version():
    path = Path(menu_entry.resource(f"desktop/{ID}.metainfo.xml"))
    root = ET.parse(path).getroot()
    assert root.find("releases/release").get("version") == __version__
    assert root.find("id").text == ID
    assert root.find("launchable").text == f"{ID}.desktop"
    command = [tool("appstreamcli"), "validate", "--no-net", "--pedantic", path]
    done = subprocess.run(command, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout


@linux
def test_a_routines_own_files_are_known_by_their_types(place, tmp_path, monkeypatch):
    """As xdg-mime sees them, which reads what update-mime-database made."""
    tool("update-mime-database"), tool("update-desktop-database")
    menu_entry.install()
    monkeypatch.setenv("DE", "generic")
    for name, kind in (
        ("routine.yaml", "application/x-rehearse-routine"),
        ("Copper Lights.rehearse.zip", "application/x-rehearse-routine+zip"),
        ("holiday pictures.zip", "application/zip"),
        ("beats.yaml", None),
    ):
        path = tmp_path / name
        if name.endswith("zip"):
            zipfile.ZipFile(path, "w").close()
        else:
            path.write_text("format: 2\n")
        found = subprocess.run(
            [sys.executable, "-c", _ASK, str(path)],
            env={**os.environ, "XDG_DATA_HOME": str(place)},
            capture_output=True,
            text=True,
            check=True,
        ).stdout.strip()
        assert found == kind or (kind is None and "rehearse" not in found)
        if kind and "rehearse" in kind:
            assert menu_entry._default(kind) == f"{ID}.desktop"


_ASK = (
    "import sys; from PySide6.QtCore import QMimeDatabase; "
    "print(QMimeDatabase().mimeTypeForFile(sys.argv[1]).name())"
)


@linux
def test_zips_and_folders_stay_with_who_opened_them(place, tmp_path):
    """Only what is a routine by its name is taken over."""
    tool("update-desktop-database"), tool("xdg-mime")
    others = place / "applications"
    others.mkdir(parents=True)
    text = "[Desktop Entry]\nType=Application\nName=Other\nExec=true %f\nMimeType={};\n"
    for kind, name in (("application/zip", "zipper"), ("inode/directory", "folders")):
        (others / f"{name}.desktop").write_text(text.format(kind))
    subprocess.run(["update-desktop-database", "-q", others], check=True)
    menu_entry.install()
    assert menu_entry._default("application/zip") == "zipper.desktop"
    assert menu_entry._default("inode/directory") == "folders.desktop"


def test_elsewhere_there_is_no_such_menu(monkeypatch, capsys):
    monkeypatch.setattr(sys, "platform", "darwin")
    assert cli.main(["install-menu-entry"]) == 2
    assert "make a shortcut" in capsys.readouterr().err


@pytest.mark.parametrize("kind", ["folder", "zip", "file"])
def test_a_path_alone_opens_the_window_with_it(kind, tmp_path, monkeypatch):
    folder = shutil.copytree(DEMO, tmp_path / "copper-lights")
    path = {"folder": folder, "file": folder / "routine.yaml"}.get(kind)
    if path is None:
        path = Path(shutil.make_archive(str(tmp_path / "copper"), "zip", folder))
    opened = []
    monkeypatch.setattr(app, "run", lambda chosen, walk: opened.append(chosen) or 0)
    for arguments in ([str(path)], ["open", str(path)]):
        assert cli.main(arguments) == 0
    assert opened == [path, path]


def test_a_command_is_a_command_where_a_file_has_its_name(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "open").mkdir()
    opened = []
    monkeypatch.setattr(app, "run", lambda chosen, walk: opened.append(chosen) or 0)
    assert cli.main(["open"]) == 0
    assert opened == [None]


def test_what_a_mac_was_told_to_open_is_opened(qapp, settings, tmp_path):
    folder = shutil.copytree(DEMO, tmp_path / "copper-lights")
    workspace = Workspace(settings, make_workers=PromptWorkers)
    heard = []
    qapp.fileAsked.connect(heard.append)
    event = QFileOpenEvent(QUrl.fromLocalFile(str(folder / "routine.yaml")))
    QCoreApplication.sendEvent(qapp, event)
    qapp.fileAsked.disconnect(heard.append)
    assert heard == [folder / "routine.yaml"]
    app._open_path(workspace, heard[0])
    assert workspace.folder == folder
    workspace.close()

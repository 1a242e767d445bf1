"""The resources are found from a checkout and from an installed wheel alike."""

from __future__ import annotations

import ast
import os
import re
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import pytest

from rehearse.files.locations import resource

ROOT = Path(__file__).resolve().parent.parent
ASK = (
    "from rehearse.files.locations import resource; import rehearse; "
    "from rehearse.routine.demo import demo_source; print(demo_source()); "
    "print(resource('poses.yaml')); print(resource('rules')); print(resource('fonts'))"
)


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    out = tmp_path_factory.mktemp("wheel")
    command = [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", str(out)]
    subprocess.run([*command, str(ROOT)], check=True, capture_output=True)
    return next(out.glob("*.whl"))


def test_resources_are_found_in_the_checkout():
    assert resource("poses.yaml") == ROOT / "resources" / "poses.yaml"


def test_a_missing_resource_is_a_packaging_error():
    with pytest.raises(FileNotFoundError, match="no-such"):
        resource("no-such.yaml")


def test_resources_are_found_in_an_installed_wheel(wheel, tmp_path):
    with zipfile.ZipFile(wheel) as archive:  # what installing a pure wheel does
        archive.extractall(tmp_path)
    environment = {**os.environ, "PYTHONPATH": str(tmp_path)}
    command = [sys.executable, "-P", "-c", ASK]
    done = subprocess.run(
        command, cwd=tmp_path, env=environment, capture_output=True, text=True, check=True
    )
    for line in done.stdout.split():
        assert Path(line).is_relative_to(tmp_path / "rehearse" / "resources")
    assert (tmp_path / "rehearse" / "resources" / "demo" / "track.ogg").is_file()


def test_the_wheel_holds_every_resource_and_only_the_product(wheel):
    names = set(zipfile.ZipFile(wheel).namelist())
    kept = subprocess.run(
        ["git", "ls-files", "resources"], cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout.split("\n")
    training = "resources/beat_network/training/"
    for name in filter(None, kept):
        assert (f"rehearse/{name}" in names) != name.startswith(training)
    assert not [n for n in names if n.startswith(("tests/", "demo/")) or training in n]
    metadata = next(n for n in names if n.endswith("METADATA"))
    text = zipfile.ZipFile(wheel).read(metadata).decode()
    assert "License-Expression: GPL-3.0-or-later" in text
    assert "Requires-Python: >=3.11" in text


#: The packages of modules that are called otherwise.
PACKAGES = {
    "PIL": "pillow",
    "PySide6": "PySide6-Essentials",
    "shiboken6": "PySide6-Essentials",
    "yaml": "PyYAML",
}


def test_what_is_imported_is_declared_and_what_is_declared_is_imported():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    declared = {_plain(re.match(r"[\w-]+", text)[0]) for text in project["dependencies"]}
    imported = set()
    for path in (ROOT / "rehearse").rglob("*.py"):
        for name in set(_imported(path)) - set(sys.stdlib_module_names) - {"rehearse"}:
            imported.add(_plain(PACKAGES.get(name, name)))
    assert imported - declared == set()
    assert declared - imported == set()


def _imported(path):
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and not node.level:
            names = [node.module]
        else:
            continue
        yield from (name.partition(".")[0] for name in names)


def _plain(name):
    return name.lower().replace("_", "-")

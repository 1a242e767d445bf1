"""The resources are found from a checkout and from an installed wheel alike."""

from __future__ import annotations

import ast
import os
import re
import shutil
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import pytest
from PIL import Image

from rehearse.files.locations import resource

ROOT = Path(__file__).resolve().parent.parent
ASK = (
    "from rehearse.files.locations import resource; import rehearse; "
    "from rehearse.routine.demo import demo_source; print(demo_source()); "
    "print(*map(resource, ('poses.yaml', 'rules', 'fonts', 'beat_network/weights.npz', 'page', "
    "'licences', 'desktop', 'languages')), sep='\\n')"
)


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    out = tmp_path_factory.mktemp("wheel")
    # The wheel is made from the source archive, which must lack nothing.
    command = [sys.executable, "-m", "build", "--no-isolation", "--outdir", str(out)]
    subprocess.run([*command, str(ROOT)], check=True, capture_output=True)
    assert len(list(out.glob("*.tar.gz"))) == 1
    return next(out.glob("*.whl"))


@pytest.fixture(scope="module")
def unpacked(wheel, tmp_path_factory):
    """What installing a pure wheel does, and the way to run it without this checkout."""
    place = tmp_path_factory.mktemp("installed")
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(place)
    return place, {**os.environ, "PYTHONPATH": str(place)}


def test_resources_are_found_in_the_checkout():
    assert resource("poses.yaml") == ROOT / "resources" / "poses.yaml"


def test_a_missing_resource_is_a_packaging_error():
    with pytest.raises(FileNotFoundError, match="no-such"):
        resource("no-such.yaml")


def test_resources_are_found_in_an_installed_wheel(unpacked):
    place, environment = unpacked
    command = [sys.executable, "-P", "-c", ASK]
    done = subprocess.run(
        command, cwd=place, env=environment, capture_output=True, text=True, check=True
    )
    found = done.stdout.split()
    assert len(found) == 9
    for line in found:
        assert Path(line).is_relative_to(place / "rehearse" / "resources")


def test_the_demo_is_handed_out_from_an_installed_wheel(unpacked, tmp_path):
    """Voice, fonts, figures and rules together; `tests.bench.package` does it in a new environment,
    with every kind of command."""
    _, environment = unpacked
    shutil.copytree(ROOT / "demo" / "copper-lights", tmp_path / "routine")
    command = ["handout", "routine", "--kind", "cue-track", "--section", "Back"]
    done = subprocess.run(
        [sys.executable, "-P", "-m", "rehearse", *command, "--out", "back.wav"],
        cwd=tmp_path,
        env=environment,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "back.wav").stat().st_size > 1_000_000


def test_the_wheel_holds_every_resource_and_only_the_product(wheel):
    names = set(zipfile.ZipFile(wheel).namelist())
    kept = subprocess.run(
        ["git", "ls-files", "resources"], cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout.split("\n")
    own = ("resources/beat_network/training/", "resources/packaging/")  # of the checkout alone
    for name in filter(None, kept):
        assert (f"rehearse/{name}" in names) != name.startswith(own)
    assert not [n for n in names if n.startswith(("tests/", "demo/"))]
    assert not [n for n in names if any(part in n for part in own)]
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


def test_the_readmes_moving_picture_is_one_and_is_light():
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    (name,) = re.findall(r"!\[[^\]]+\]\(([^)]+)\)", readme)
    picture = ROOT / name
    assert picture.stat().st_size <= 3_000_000
    with Image.open(picture) as opened:
        assert opened.is_animated
        assert opened.n_frames > 100


def test_the_moving_picture_is_painted_by_the_stage_display():
    """In a process of its own: it makes an application, of which there is one a process."""
    look = (
        "import moving_picture as m; f = next(m.frames(12.0, 13.0)); "
        "print(f.size == m.SHOWN, len(f.getcolors(1 << 20)) > 20)"
    )
    paths = os.pathsep.join((str(ROOT), str(ROOT / "demo")))
    environment = {**os.environ, "PYTHONPATH": paths, "QT_QPA_PLATFORM": "offscreen"}
    done = subprocess.run(
        [sys.executable, "-c", look], env=environment, capture_output=True, text=True, check=True
    )
    assert done.stdout.split() == ["True", "True"]

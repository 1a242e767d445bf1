"""The resources are found from a checkout and from an installed wheel alike."""

from __future__ import annotations

import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from rehearse.files.resources import resource

ROOT = Path(__file__).resolve().parent.parent
ASK = (
    "from rehearse.files.resources import resource; import rehearse; "
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


def test_the_wheel_holds_every_resource_and_only_the_product(wheel):
    names = set(zipfile.ZipFile(wheel).namelist())
    kept = subprocess.run(
        ["git", "ls-files", "resources"], cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout.split("\n")
    for name in filter(None, kept):
        assert f"rehearse/{name}" in names
    assert not [n for n in names if n.startswith(("tests/", "demo/"))]
    metadata = next(n for n in names if n.endswith("METADATA"))
    text = zipfile.ZipFile(wheel).read(metadata).decode()
    assert "License-Expression: GPL-3.0-or-later" in text
    assert "Requires-Python: >=3.11" in text

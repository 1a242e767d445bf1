"""The program as a stranger gets it: built, installed in a clean environment, the demo run there.

    python -m tests.bench.package [--keep FOLDER]

Source archive, the wheel made from it, a new virtual environment without this checkout, and in it
the commands of the demo from another folder: resources, voices, fonts and weights must be found.
Needs the network for the libraries. Prints seconds and megabytes; 1 when a command fails.
`--keep` leaves the archives and the environment there.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
#: Each command of the demo, and what must come of it beneath the folder it is run in.
COMMANDS = (
    (("--version",), ""),
    (("check", "routine"), ""),
    (("beats", "routine/track.ogg"), ""),
    (("dry-run", "routine", "--section", "Back", "--tempo", "60", "--out", "dry"), "dry"),
    (("handout", "routine", "--kind", "sheet", "--out", "."), "Copper Lights routine sheet.pdf"),
    (("handout", "routine", "--kind", "cue-track", "--section", "Back", "--out", "back.flac"),
     "back.flac"),
    (("handout", "routine", "--kind", "page", "--out", "."), "Copper Lights page.html"),
)  # fmt: skip


def main() -> int:
    """Build, install, run."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--keep", type=Path, help="leave archives and environment in this folder")
    keep = parser.parse_args().keep
    with tempfile.TemporaryDirectory(prefix="rehearse-package-") as scratch:
        place = Path(keep or scratch).resolve()
        place.mkdir(parents=True, exist_ok=True)
        wheel = build(place)
        python = install(place, wheel)
        return run(place, python)


def timed(words: str, command: list[str], **options: object) -> subprocess.CompletedProcess[str]:
    """Run a command and say how long it took."""
    begun = time.perf_counter()
    done = subprocess.run(command, capture_output=True, text=True, check=False, **options)  # type: ignore[call-overload]
    print(f"{time.perf_counter() - begun:7.1f} s  {words}", flush=True)
    if done.returncode:
        print(done.stdout[-2000:], done.stderr[-2000:], sep="\n")
    return done  # type: ignore[no-any-return]


def build(place: Path) -> Path:
    """The source archive, and the wheel made from that archive alone."""
    out = place / "dist"
    shutil.rmtree(out, ignore_errors=True)
    command = [sys.executable, "-m", "build", "--no-isolation", "--outdir", str(out), str(ROOT)]
    if timed("source archive, and a wheel from it", command).returncode:
        sys.exit(1)
    for path in sorted(out.iterdir()):
        print(f"{path.stat().st_size / 1e6:7.1f} MB {path.name}")
    return next(out.glob("*.whl"))


def install(place: Path, wheel: Path) -> Path:
    """A new environment with the wheel and the libraries it names; its Python."""
    venv = place / "venv"
    shutil.rmtree(venv, ignore_errors=True)
    subprocess.run([sys.executable, "-m", "venv", str(venv)], check=True)
    python = venv / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
    command = [str(python), "-m", "pip", "install", "-q", "--disable-pip-version-check", str(wheel)]
    if timed("installed", command, env=_clean()).returncode:
        sys.exit(1)
    size = sum(p.stat().st_size for p in venv.rglob("*") if p.is_file() and not p.is_symlink())
    print(f"{size / 1e6:7.0f} MB environment")
    return python


def run(place: Path, python: Path) -> int:
    """The demo, from a folder that knows nothing of the checkout."""
    demo = place / "demo"
    shutil.rmtree(demo, ignore_errors=True)
    shutil.copytree(ROOT / "demo" / "copper-lights", demo / "routine")
    program = python.with_name("rehearse.exe" if os.name == "nt" else "rehearse")
    failed = 0
    environment = _clean() | {
        f"XDG_{name}_HOME": str(demo / name) for name in ("CONFIG", "STATE", "CACHE", "DATA")
    }
    for arguments, made in COMMANDS:
        command = [str(program), *arguments]
        done = timed(f"rehearse {' '.join(arguments)}", command, cwd=demo, env=environment)
        lacks = bool(made) and not (demo / made).exists()
        if lacks:
            print(f"  {made} was not made")
        failed += bool(done.returncode) or lacks
    return int(failed > 0)


def _clean() -> dict[str, str]:
    """This environment without any way to the checkout."""
    lost = (
        *("PYTHONPATH", "PYTHONHOME", "VIRTUAL_ENV"),
        *("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM"),
    )
    return {name: value for name, value in os.environ.items() if name not in lost}


if __name__ == "__main__":
    sys.exit(main())

"""Sets up everything and passes the tests: `python3 tests/run.py [pytest arguments]`.

Format and lint, types, the import contracts, then the tests, those in real time last. Starts from a
bare Python.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "demo"))
from environment import PYTHON, ROOT, TESTS, prepare

CHECKS = (
    ("format", ["ruff", "format", "--no-cache", "--check", "--quiet", "."]),
    ("lint", ["ruff", "check", "--no-cache", "--quiet", "."]),
    ("types", ["mypy"]),
    ("import contracts", ["lint-imports"]),
)
#: Tests that keep time with the clock on the wall have the machine to themselves; of the others
#: many wait for music or for a process, so that three at once keep two cores busy.
TESTS_IN_TURN = (
    ("tests", ["--numprocesses=3", "--dist=loadfile", "-m", "not sound and not realtime"]),
    ("tests in real time", ["-m", "sound or realtime"]),
)


def main() -> int:
    """Run all checks; the tests come last, so that their count is the last line."""
    prepare("tests", tuple(TESTS))
    environment = {**os.environ, "QT_QPA_PLATFORM": "offscreen", "PYTHONDONTWRITEBYTECODE": "1"}
    failed = []
    chosen = sys.argv[1:]
    for name, (tool, *rest) in () if chosen else CHECKS:
        print(f"== {name}", flush=True)
        command = [str(PYTHON.with_name(tool)), *rest]
        if subprocess.run(command, cwd=ROOT, env=environment, check=False).returncode:
            failed.append(name)
    for name, options in (("tests", chosen),) if chosen else TESTS_IN_TURN:
        print(f"== {name}", flush=True)
        command = [str(PYTHON), "-m", "pytest", "-q", "--durations=15", *options]
        if subprocess.run(command, cwd=ROOT, env=environment, check=False).returncode:
            failed.append(name)
    if failed:
        print(f"Not in order: {', '.join(failed)}", flush=True)
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())

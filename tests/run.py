"""Sets up everything and passes the tests: `python3 tests/run.py [pytest arguments]`.

The tests, beside them format and lint, types and the import contracts; those in real time last and
by themselves. Starts from a bare Python.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from subprocess import PIPE, STDOUT

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


def checked(environment: dict[str, str]) -> list[str]:
    """Names of the checks that found something; what they printed is printed with them."""
    failed = []
    for name, (tool, *rest) in CHECKS:
        command = [str(PYTHON.with_name(tool)), *rest]
        done = subprocess.run(
            command, cwd=ROOT, env=environment, check=False, stdout=PIPE, stderr=STDOUT, text=True
        )
        print(f"== {name}\n{done.stdout}", end="", flush=True)
        if done.returncode:
            failed.append(name)
    return failed


def compile_librosa(environment: dict[str, str]) -> None:
    """Have it compile and keep its loops: else each process that loads it takes 20 s for them."""
    command = [str(PYTHON), "-c", "import librosa.util.utils"]
    subprocess.run(command, cwd=ROOT, env=environment, check=False)


def tested(name: str, options: Sequence[str], environment: dict[str, str]) -> list[str]:
    """Their name if a test failed."""
    print(f"== {name}", flush=True)
    command = [str(PYTHON), "-m", "pytest", "-q", "--durations=15", *options]
    status = subprocess.run(command, cwd=ROOT, env=environment, check=False).returncode
    return [name] if status else []


def main() -> int:
    """Run checks and tests; those in real time come last, so that their count is the last line."""
    prepare("tests", tuple(TESTS))
    environment = {**os.environ, "QT_QPA_PLATFORM": "offscreen"}
    # Hundreds of processes are begun, and each would compile the program for itself.
    environment.pop("PYTHONDONTWRITEBYTECODE", None)
    if chosen := sys.argv[1:]:
        failed = tested("tests", chosen, environment)
    else:
        # The checks use one core, and the tests leave some of two free.
        with ThreadPoolExecutor(1) as beside:
            checks = beside.submit(checked, environment)
            compile_librosa(environment)
            (name, options), *others = TESTS_IN_TURN
            failed = tested(name, options, environment)
        failed += checks.result()
        for name, options in others:
            failed += tested(name, options, environment)
    if failed:
        print(f"Not in order: {', '.join(failed)}", flush=True)
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())

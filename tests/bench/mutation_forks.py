"""Runs tests in forks of one process that has the libraries loaded: a part of `mutation.py`.

It stands in a copy of the project and takes one job a line on its standard input, as JSON:
`{"warm": [module, …]}` loads libraries; `{"map": [test file, …], "folder": …, "out": path}` runs
tests and notes which lines of the folder each of them reaches; `{"tests": [id, …], "seconds": s}`
runs tests until one fails. It answers each with one line: `{"code": exit status or null, "said":
failed test or last line}`, where null says that the time ran out.
"""

from __future__ import annotations

import importlib
import json
import os
import shutil
import signal
import sys
import tempfile
import time
import traceback
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

import pytest

COMMON = ("-q", "-p", "no:cacheprovider", "-p", "no:randomly", "--hypothesis-seed=1")


class _Map:
    """Notes for each test how long it takes, which lines it reaches and which fixtures it shares.

    What a fixture of a wider scope than a test reaches is noted under the fixture's own name:
    every test that uses it depends on these lines, though only the first one runs them.
    """

    def __init__(self, folder: Path) -> None:
        import coverage

        self.coverage = coverage.Coverage(data_file=None, include=[f"{folder}/*"])
        self.seconds: dict[str, float] = {}
        self.shared: dict[str, list[str]] = {}
        self.failed: list[str] = []
        self.now = ""

    @pytest.hookimpl(hookwrapper=True)
    def pytest_runtest_protocol(self, item):
        self._enter(item.nodeid)
        known = item._fixtureinfo.name2fixturedefs.values()
        self.shared[item.nodeid] = [_named(d[-1]) for d in known if d[-1].scope != "function"]
        yield
        self._enter("")

    @pytest.hookimpl(hookwrapper=True)
    def pytest_fixture_setup(self, fixturedef):
        before = self.now
        if fixturedef.scope != "function":
            self._enter(_named(fixturedef))
        yield
        self._enter(before)

    def pytest_runtest_logreport(self, report):
        self.seconds[report.nodeid] = self.seconds.get(report.nodeid, 0.0) + report.duration
        if report.failed:
            self.failed.append(report.nodeid)

    def _enter(self, context: str) -> None:
        self.now = context
        self.coverage.switch_context(context)

    def result(self) -> dict[str, object]:
        data = self.coverage.get_data()
        reached: dict[str, dict[str, list[int]]] = {}
        for path in data.measured_files():
            file = str(Path(path).relative_to(Path.cwd()))
            for line, contexts in data.contexts_by_lineno(path).items():
                for context in contexts:
                    reached.setdefault(context, {}).setdefault(file, []).append(line)
        return {
            "seconds": self.seconds, "shared": self.shared, "reached": reached,
            "failed": self.failed, "modules": sorted(sys.modules),
        }  # fmt: skip


class _Order:
    """The tests of one file stay together; the file that is done first begins."""

    def __init__(self, tests: list[str]) -> None:
        self.place = {test: k for k, test in enumerate(tests)}

    def pytest_collection_modifyitems(self, items):
        items.sort(key=lambda item: self.place.get(item.nodeid, len(self.place)))


def _named(fixture) -> str:
    return f"fixture {fixture.baseid} {fixture.argname}"


def _map(files: list[str], folder: Path, out: Path) -> int:
    plugin = _Map(folder)
    plugin.coverage.start()
    try:
        return int(pytest.main([*COMMON, "-m", "not slow and not realtime", *files], [plugin]))
    finally:
        plugin.coverage.stop()
        out.write_text(json.dumps(plugin.result()))


def _tests(tests: list[str], keep: bool) -> int:
    # Without a mutant byte code is kept, so that the next run need not compile the tests again.
    sys.dont_write_bytecode = not keep
    # Many tests are named at once: each file is collected as a whole, and the rest left out.
    files = sorted({test.partition("::")[0] for test in tests})
    named = files if len(tests) > len(files) else tests
    return int(pytest.main(["-x", *COMMON, *named], [_Order(tests), _Only(set(tests))]))


class _Only:
    def __init__(self, tests: set[str]) -> None:
        self.tests = tests

    @pytest.hookimpl(trylast=True)
    def pytest_collection_modifyitems(self, items):
        if any("::" in test for test in self.tests):
            items[:] = [item for item in items if item.nodeid in self.tests]


def _forked(job: Callable[[], int], seconds: float) -> dict[str, object]:
    """The job done in a fork: its exit status, or none when it took longer than `seconds`."""
    shutil.rmtree(".hypothesis", ignore_errors=True)
    with tempfile.TemporaryFile("w+", errors="replace") as said:
        child = os.fork()
        if child == 0:
            os.setsid()
            for stream in (1, 2):
                os.dup2(said.fileno(), stream)
            code = 99
            try:
                code = job()
            except BaseException:
                traceback.print_exc()
            finally:
                sys.stdout.flush()
                sys.stderr.flush()
                os._exit(code)
        code = _waited(child, seconds)
        said.seek(0)
        lines = said.read().strip().splitlines() or [""]
    failed = [line for line in lines if line.startswith(("FAILED ", "ERROR "))]
    return {"code": code, "said": (failed or lines)[-1]}


def _waited(child: int, seconds: float) -> int | None:
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            with suppress(OSError):  # processes of a test that were left running
                os.killpg(child, signal.SIGTERM)
            return os.waitstatus_to_exitcode(status)
        time.sleep(0.02)
    with suppress(OSError):
        os.killpg(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return None


def _warm(modules: list[str]) -> None:
    for module in modules:
        with suppress(Exception):
            importlib.import_module(module)


def main() -> None:
    """Do the jobs until the input ends."""
    for line in sys.stdin:
        job = json.loads(line)
        answer: dict[str, object] = {"code": 0, "said": ""}
        if "warm" in job:
            _warm(job["warm"])
        elif "map" in job:
            files, folder, out = job["map"], Path(job["folder"]), Path(job["out"])
            answer = _forked(lambda f=files, p=folder, o=out: _map(f, p, o), job["seconds"])
        else:
            tests, keep = job["tests"], job.get("keep", False)
            answer = _forked(lambda t=tests, k=keep: _tests(t, k), job["seconds"])
        print(json.dumps(answer), flush=True)


if __name__ == "__main__":
    main()

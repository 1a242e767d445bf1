"""Hostile files by the thousand: none may hang, eat the memory, break the program or get out.

    python -m tests.bench.fuzz --cases 20000 --seed 1 [--processes 1] [--only NUMBER]

Every file the program opens is made sound, then damaged by bytes and by structure, and opened
through the library and, a sample of them, through the command line. Exit status 1 when a case
ends in a traceback (or ends its process, opens a socket, tells no sentence), takes more than 2 s,
more than 1 GB, or changes anything but what it may. A case that was slow by the clock alone is
tried again, beside a sound file: the machine may have been busy. `--only` repeats one case and
prints all of it.
"""

from __future__ import annotations

import argparse
import json
import os
import select
import subprocess
import sys
import tempfile
import time
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]
#: Bounds of one case: seconds, and bytes of the whole process with all its libraries.
SLOW, LARGE = 2.0, 1_000_000_000
#: Seconds by the clock that a busy machine excuses.
LATE = 10.0
#: Seconds after which a process that says nothing is ended, and bytes at which it ends itself.
HUNG, MOST_MEMORY = 40.0, 6_000_000_000
BAD = ("traceback", "slow", "large", "changed")


class Child:
    """A process that opens cases; started anew after one has ended it."""

    def __init__(self) -> None:
        self._place = tempfile.TemporaryDirectory(prefix="fuzz-", ignore_cleanup_errors=True)
        self._process: subprocess.Popen[bytes] | None = None
        self._number = 0
        self._heard = b""

    def run(self, seed: int, number: int, *, sound: bool = False) -> dict[str, Any]:
        """What became of one case; `sound`: with the file as it should be."""
        if self._process is None:
            self._start()
        assert self._process is not None
        assert self._process.stdin is not None
        self._process.stdin.write(f"{seed} {number} {sound:d}\n".encode())
        self._process.stdin.flush()
        begun = self._line().partition(" ")[2]
        started = time.monotonic()
        answer = self._line()
        if answer:
            found: dict[str, Any] = json.loads(answer)
            return found
        wall = time.monotonic() - started
        status = self._end()
        hung = wall >= HUNG
        return {
            "number": number, "kind": begun.partition(",")[0], "how": begun, "command": False,
            "outcome": "hung" if hung else "traceback", "detail": f"ended with status {status}",
            "wall": wall, "busy": wall if hung else 0.0, "crowded": 0.0, "peak": 0, "changed": [],
        }  # fmt: skip

    def close(self) -> None:
        """End the process and take its folder away."""
        if self._process is not None:
            self._end()
        self._place.cleanup()

    def _start(self) -> None:
        self._number += 1
        sandbox = Path(self._place.name) / str(self._number)
        sandbox.mkdir()
        self._process = subprocess.Popen(
            [sys.executable, "-m", "tests.helpers.fuzz.child", str(sandbox)],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, cwd=ROOT,
            env={**os.environ, "PYTHONPATH": str(ROOT), "QT_QPA_PLATFORM": "offscreen"},
            preexec_fn=_limit,
        )  # fmt: skip
        if self._line(120.0) != "ready":
            raise RuntimeError("the child does not start; run tests.helpers.fuzz.child by hand")

    def _line(self, patience: float = HUNG) -> str:
        """The next line; empty when the process has ended or says nothing any more."""
        assert self._process is not None
        assert self._process.stdout is not None
        until = time.monotonic() + patience
        while b"\n" not in self._heard:
            ready, _, _ = select.select(
                [self._process.stdout], [], [], max(0.0, until - time.monotonic())
            )
            more = os.read(self._process.stdout.fileno(), 1 << 16) if ready else b""
            if not more:
                return ""
            self._heard += more
        line, _, self._heard = self._heard.partition(b"\n")
        return line.decode()

    def _end(self) -> int:
        assert self._process is not None
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        try:
            status = self._process.wait(0.2)
        except subprocess.TimeoutExpired:
            self._process.kill()
            status = self._process.wait()
        self._process.stdin.close()
        self._process.stdout.close()
        self._heard = b""
        self._process = None
        return status


def _limit() -> None:
    import resource

    resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def judged(child: Child, seed: int, number: int) -> tuple[dict[str, Any], list[str]]:
    """One case and what is bad about it.

    One that waited is tried twice more. It may take three times as long as a sound file opened the
    same way at the same time, since processes of its own wait for a busy machine as well, and up to
    `LATE` where something waited for a processor all the while; one that waits for ever is slow all
    the same. A quiet machine tells most.
    """
    found = child.run(seed, number)
    if found["busy"] <= SLOW < found["wall"] < LATE:
        found["wall"] = max(SLOW, found["wall"] - found["crowded"])
    for _ in range(2):
        if found["busy"] > SLOW or found["wall"] <= SLOW:
            break
        found["wall"] = min(found["wall"], child.run(seed, number)["wall"])
    if found["busy"] <= SLOW < found["wall"] < HUNG:
        usual = max(child.run(seed, number, sound=True)["wall"] for _ in range(3))
        if found["wall"] <= 3 * usual:
            found["wall"] = SLOW
    bad = []
    if found["outcome"] == "traceback":
        bad.append("traceback")
    if found["outcome"] == "hung" or max(found["busy"], found["wall"]) > SLOW:
        bad.append("slow")
    if found["peak"] > LARGE:
        bad.append("large")
    if found["changed"]:
        bad.append("changed")
    return found, bad


def run(cases: range, seed: int, processes: int, tell: bool = True) -> Counter[str]:
    """Open all the cases; how often each outcome came up, by itself and by kind."""
    counts: Counter[str] = Counter()

    def part(first: int) -> None:
        child = Child()
        try:
            for number in cases[first::processes]:
                found, bad = judged(child, seed, number)
                counts.update([found["outcome"], *bad[found["outcome"] == "traceback" :]])
                counts.update([f"{found['kind']} {found['outcome']}", "command" * found["command"]])
                counts.update(f"{found['kind']} {word}" for word in bad if word != "traceback")
                if bad:
                    print(_told(found, seed, bad), flush=True)
                done = sum(counts[word] for word in ("clean", "fault", "traceback", "hung"))
                if tell and done % 1000 == 0:
                    print(f"{done} done", flush=True)
        finally:
            child.close()

    with ThreadPoolExecutor(processes) as pool:
        list(pool.map(part, range(processes)))
    return counts


def _told(found: dict[str, Any], seed: int, bad: list[str]) -> str:
    return (
        f"case {found['number']} of seed {seed}: {', '.join(bad)} – {found['kind']} "
        f"({found['how']}{', command' if found['command'] else ''}), {found['wall']:.1f} s, "
        f"{found['busy']:.1f} s busy, {found['peak'] / 1e6:.0f} MB, {found['changed']}\n"
        f"    {found['detail'][-1500:]}"
    )


def main() -> int:
    """Open, count, judge; 1 when a bound is broken."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--cases", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--first", type=int, default=0, help="number of the first case")
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--only", type=int, help="repeat this case and print all of it")
    options = parser.parse_args()
    if options.only is not None:
        child = Child()
        try:
            found, bad = judged(child, options.seed, options.only)
        finally:
            child.close()
        print(json.dumps(found, indent=1, ensure_ascii=False), bad)
        return bool(bad)
    started = time.monotonic()
    cases = range(options.first, options.first + options.cases)
    counts = run(cases, options.seed, options.processes)
    kinds = sorted({name.split()[0] for name in counts if " " in name})
    columns = ("clean", "fault", *BAD)
    print(f"{'':10}" + "".join(f"{name:>11}" for name in columns))
    for kind in kinds:
        print(f"{kind:10}" + "".join(f"{counts[f'{kind} {name}']:>11}" for name in columns))
    print(f"{'all':10}" + "".join(f"{counts[name]:>11}" for name in columns))
    print(
        f"{options.cases} cases of seed {options.seed}, {counts['command']} of them through the "
        f"command line, {time.monotonic() - started:.0f} s"
    )
    return int(any(counts[name] for name in BAD))


if __name__ == "__main__":
    sys.exit(main())

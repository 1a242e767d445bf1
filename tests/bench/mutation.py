"""Mutants: small faults put into the program, and whether the tests notice.

    python -m tests.bench.mutation [PART…] [--sample 50] [--seed 1] [--only NUMBER…]
        [--tests TEST…] [--seconds 15] [--keep FOLDER] [--told] [--least 85]

    python -m tests.bench.mutation cueing music/correct.py --sample 100 --seed 7

A part is one of `PARTS`, a room or a file; without any, all of `PARTS`. The mutants are those of
cosmic-ray (`pip install -e .[mutation]`): another operator or number, a condition turned round, a
loop that does not run. `--sample` of each part are drawn by the seed, each place as likely as any
other. They are put one by one into a copy of the project, never into this tree. Those tests of the
room that import the part and reach the changed line are run until one fails, files that are done
soonest first, each mutant in a fork of a process that has the libraries loaded. Which test reaches
which line is measured first (slow tests and those by the clock left out); for what none of the room
reaches, tests of other rooms that import the file are run. A mutant whose tests take far longer
than without it counts as killed; one that no test reaches survives, and so does one that the tests
of the first `--seconds` (as measured without it) do not kill. The share killed is printed with its
95 % interval (Wilson).

`--only` repeats these numbers of the sample, `--tests` runs these tests instead, to see whether a
new one kills; with `--keep`, which test reaches what is measured once for several runs: empty that
folder when program or tests change. What survives is printed as its changed lines, to be killed by
a test or explained: `mutation_known.tsv` has those that nobody could tell from the program (file,
line, the line with the fault or nothing for any fault in it, reason). They count as survivors; how
many they are is told beside the share.

Left out, because no test could tell: mutants of annotations, of `__all__` and of what guards a
dataclass (`frozen`, `eq`), and those that turn `==` into `is`. Exit status 1 when fewer than
`--least` % of all were killed, 2 when no tests run.
"""

from __future__ import annotations

import argparse
import ast
import difflib
import itertools
import json
import math
import os
import random
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType

ROOT = Path(__file__).resolve().parents[2]
#: Mutants that nobody could tell from the program, with the reason.
KNOWN = ROOT / "tests" / "bench" / "mutation_known.tsv"
#: What a copy of the project needs for its tests.
COPIED = ("rehearse", "tests", "resources", "demo", "pyproject.toml", "README.md", "DEVELOPERS.md")
#: What is to be measured: the parts that a rehearsal cannot do without.
PARTS = {
    "model": tuple(
        f"music/{name}.py"
        for name in (
            "beatmap", "correct", "grid", "mapfile", "maprows", "position", "settle",
            "tapped_counts", "taps",
        )
    ),
    "cueing": ("cueing",),
    "practice": ("practice",),
    "edits": ("routine/edits",),
}  # fmt: skip
#: The operators used: names of cosmic-ray's, each standing for a slip of the pen.
OPERATORS = re.compile(
    r"core/(NumberReplacer|AddNot|ReplaceAndWithOr|ReplaceOrWithAnd|ZeroIterationForLoop"
    r"|ReplaceTrueWithFalse|ReplaceFalseWithTrue|ReplaceBreakWithContinue|ReplaceContinueWithBreak"
    r"|ReplaceUnaryOperator_(USub_UAdd|Delete_USub|Delete_Not)"
    r"|ReplaceBinaryOperator_(Add_Sub|Sub_Add|Mul_Add|Div_Mul|FloorDiv_Div|FloorDiv_Mul|Mod_Mul)"
    r"|ReplaceComparisonOperator_(Eq_NotEq|NotEq_Eq|Lt_LtE|LtE_Lt|Gt_GtE|GtE_Gt|Lt_GtE|GtE_Lt"
    r"|Gt_LtE|LtE_Gt|Is_IsNot|IsNot_Is))"
)
#: What is loaded once for all mutants.
LIBRARIES = ("av", "librosa", "numpy", "platformdirs", "scipy", "soundfile", "soxr", "yaml")
#: A mutant gets this many times the seconds its tests take without it, and some for the start.
PATIENCE, START = 4.0, 15.0


@dataclass(frozen=True)
class Mutant:
    """A file of the program with one fault in it."""

    file: Path  # from the project's folder
    operator: str
    source: str  # without it
    code: str

    def changed(self) -> str:
        """The lines that differ, with their number in the file."""
        before = self.source.splitlines()
        lines = difflib.unified_diff(before, self.code.splitlines(), n=0, lineterm="")
        return "\n".join(f"    {line}" for line in list(lines)[2:])

    def line(self) -> int:
        """Number of the first line that differs."""
        pairs = zip(self.source.splitlines(), self.code.splitlines(), strict=False)
        return next(k for k, (old, new) in enumerate(pairs, 1) if old != new)


def sample(files: list[Path], number: int, seed: int) -> tuple[list[Mutant], int]:
    """As many mutants of the files that a test could tell from them, and how many places there are.

    Places are drawn evenly; one whose mutant means the same as the source, or as a mutant drawn
    before, is drawn again.
    """
    from cosmic_ray.mutating import mutate_code
    from cosmic_ray.plugins import get_operator

    sources = {file: (ROOT / file).read_text() for file in files}
    seen = {(file, _meaning(source)) for file, source in sources.items()}
    places = [place for file in files for place in _places(file, sources[file])]
    random.Random(seed).shuffle(places)
    drawn: list[Mutant] = []
    for file, name, occurrence in places:
        if len(drawn) == number:
            break
        code = mutate_code(sources[file], get_operator(name)(), occurrence)
        meaning = code and _meaning(code)
        if meaning and (file, meaning) not in seen:
            seen.add((file, meaning))
            drawn.append(Mutant(file, name.removeprefix("core/"), sources[file], code))
    return drawn, len(places)


def _places(file: Path, source: str) -> Iterator[tuple[Path, str, int]]:
    """Where a fault can be put: file, name of the operator, number of its occurrence."""
    from cosmic_ray.ast import ast_nodes, get_ast
    from cosmic_ray.plugins import get_operator, operator_names

    nodes = list(ast_nodes(get_ast(source)))
    for name in sorted(n for n in operator_names() if OPERATORS.fullmatch(n)):
        operator = get_operator(name)()
        count = sum(len(list(operator.mutation_positions(node))) for node in nodes)
        yield from ((file, name, occurrence) for occurrence in range(count))


def _meaning(code: str) -> str | None:
    """What the code does, as text: without what is left out (see the module's text)."""
    try:
        tree = ast.parse(code)
    except SyntaxError:
        return None
    for node in ast.walk(tree):
        if isinstance(node, ast.AnnAssign):
            node.annotation = ast.Constant("")
        elif isinstance(node, ast.arg):
            node.annotation = None
        elif isinstance(node, ast.FunctionDef):
            node.returns = None
        elif isinstance(node, ast.Call) and getattr(node.func, "id", "") == "dataclass":
            node.keywords = [k for k in node.keywords if k.arg not in ("frozen", "eq")]
    tree.body = [
        x for x in tree.body if not (isinstance(x, ast.Assign) and "__all__" in ast.dump(x))
    ]
    return ast.dump(tree)


def known(mutant: Mutant) -> str:
    """Why nobody could tell a mutant from the program; empty where `KNOWN` has no reason."""
    at = mutant.line() - 1
    line, fault = (_bare(code.splitlines()[at]) for code in (mutant.source, mutant.code))
    for file, stands, changed, reason in known_rows():
        same = (file, _bare(stands)) == (str(mutant.file), line)
        if same and _bare(changed) in ("", fault):
            return reason
    return ""


def known_rows() -> list[list[str]]:
    """The table of `KNOWN`: file, line, the line with the fault ("" for any), reason."""
    return [row.split("\t") for row in KNOWN.read_text().splitlines()[1:]]


def _bare(line: str) -> str:
    return "".join(line.split())


class Copy:
    """A copy of the project, the process in it that runs tests, and which test reaches what."""

    def __init__(self) -> None:
        self._temporary = tempfile.TemporaryDirectory()
        self.folder = Path(self._temporary.name).resolve()
        for name in COPIED:
            source = ROOT / name
            (shutil.copytree if source.is_dir() else shutil.copy2)(source, self.folder / name)
        environment = os.environ | {
            "QT_QPA_PLATFORM": "offscreen", "COVERAGE_CORE": "ctrace",
            "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1",
            "PYTHONPATH": os.pathsep.join([str(self.folder), *_extra_paths()]),
        }  # fmt: skip
        environment.pop("PYTHONDONTWRITEBYTECODE", None)
        self._server = subprocess.Popen(
            [sys.executable, "-m", "tests.bench.mutation_forks"], cwd=self.folder,
            env=environment, text=True, stdin=subprocess.PIPE, stdout=subprocess.PIPE,
        )  # fmt: skip
        self.ask(warm=LIBRARIES)
        self._reached: dict[str, dict[str, set[int]]] = {}  # by test, by file
        self._seconds: dict[str, float] = {}

    def __enter__(self) -> Copy:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, e: BaseException | None, t: TracebackType | None
    ) -> None:
        self._server.communicate()
        self._temporary.cleanup()

    def ask(self, **job: object) -> dict[str, object]:
        """The answer of the process that runs tests (see `mutation_forks.py`)."""
        assert self._server.stdin is not None
        assert self._server.stdout is not None
        self._server.stdin.write(json.dumps(job) + "\n")
        self._server.stdin.flush()
        return json.loads(self._server.stdout.readline())

    def look(self, part: str, keep: Path | None) -> None:
        """Find out which test near a part reaches which lines of it, and load its libraries.

        Raises:
            RuntimeError: the tests do not run. One that fails by itself is named and not used.
        """
        out = (keep or self.folder) / f"map-{part.replace('/', '-')}.json"
        if not out.exists():
            files = files_of(part)
            code = str(self.folder / "rehearse" / files[0].parts[1])
            answer = self.ask(map=near(files), folder=code, out=str(out), seconds=1800)
            if answer["code"] not in (0, 1):
                raise RuntimeError(f"{part}: its tests do not run: {answer['said']}")
        found = json.loads(out.read_text())
        if found["failed"]:
            print(f"{part}: not used, failing as they are: {', '.join(found['failed'])}")
        self._seconds = found["seconds"]
        self._reached = {}
        for test, fixtures in found["shared"].items():
            if test in found["failed"]:
                continue
            mine = self._reached.setdefault(test, {})
            for context in (test, *fixtures):
                for file, lines in found["reached"].get(context, {}).items():
                    mine.setdefault(file, set()).update(lines)
        self.ask(warm=[m for m in found["modules"] if m.partition(".")[0] in LIBRARIES])

    def reaching(self, mutant: Mutant, seconds: float) -> list[str]:
        """The tests that reach a mutant's line, those of the file that is done soonest first.

        Those that come later than `seconds` are left out.
        """
        file = str(mutant.file)
        lines = _lines_of(mutant.source, mutant.line())
        tests = [
            test for test, reached in self._reached.items()
            if (mine := reached.get(file)) and (lines is None or mine & lines)
        ]  # fmt: skip
        whole: dict[str, float] = {}
        for test in tests:
            name = test.partition("::")[0]
            whole[name] = whole.get(name, 0.0) + self._seconds[test]
        names = sorted(whole, key=whole.__getitem__)
        tests.sort(key=lambda t: (names.index(t.partition("::")[0]), self._seconds[t]))
        begun = itertools.accumulate((self._seconds[t] for t in tests), initial=0.0)
        return [test for test, at in zip(tests, begun, strict=False) if at < seconds]

    def control(self, tests: list[str]) -> None:
        """Run the tests without any mutant.

        Raises:
            RuntimeError: one fails, so that no mutant could be told from it.
        """
        answer = self.ask(tests=tests, seconds=1800, keep=True)
        if answer["code"] != 0:
            raise RuntimeError(f"the tests fail as they are: {answer['said']}")

    def killed_by(self, mutant: Mutant, tests: list[str]) -> str:
        """Which test fails with the mutant in the place of its file; empty when none does."""
        if not tests:
            return ""
        target = self.folder / mutant.file
        before = target.stat()
        seconds = PATIENCE * sum(self._seconds.get(test, 5.0) for test in tests) + START
        target.write_text(mutant.code)
        try:
            answer = self.ask(tests=tests, seconds=seconds)
            if answer["code"] not in (0, 1, 2, None):  # 2: the module cannot be imported
                raise RuntimeError(f"{mutant.file}: {answer['code']}, {answer['said']}")
            return "" if answer["code"] == 0 else str(answer["said"]) or "took too long"
        finally:
            target.write_text(mutant.source)
            os.utime(target, ns=(before.st_atime_ns, before.st_mtime_ns))


def _extra_paths() -> list[str]:
    """The folders of PYTHONPATH but for this project's own: its copy stands in their place."""
    paths = os.environ.get("PYTHONPATH", "").split(os.pathsep)
    return [path for path in paths if path and Path(path).resolve() != ROOT]


def _lines_of(source: str, line: int) -> set[int] | None:
    """The lines of the statement at a line; none outside functions, where importing runs it."""
    found: set[int] | None = None
    for outer in ast.walk(ast.parse(source)):
        if not isinstance(outer, ast.FunctionDef | ast.Lambda):
            continue
        body = outer.body if isinstance(outer.body, list) else [outer.body]
        if not body[0].lineno <= line <= (outer.end_lineno or 0):
            continue
        for node in ast.walk(outer):
            if isinstance(node, ast.stmt) and node is not outer:
                inner = getattr(node, "body", None)
                last = inner[0].lineno - 1 if inner else node.end_lineno
                lines = set(range(node.lineno, max(node.lineno, last or 0) + 1))
                if line in lines and (found is None or len(lines) < len(found)):
                    found = lines
    return found


def elsewhere(mutant: Mutant) -> list[str]:
    """The test files of other rooms that import a mutant's module, the window's left out."""
    module = ".".join(mutant.file.with_suffix("").parts)
    files = sorted((ROOT / "tests").glob("*/test_*.py"))
    chosen = [
        f for f in files if f.parent.name != "ui" and f"from {module} import" in f.read_text()
    ]
    return [str(file.relative_to(ROOT)) for file in chosen]


def interval(killed: int, total: int) -> tuple[float, float]:
    """The 95 % interval of a share of killed ones, in per cent (Wilson, 1927)."""
    z = 1.96
    share, scale = killed / total, 1 + z**2 / total
    middle = (share + z**2 / (2 * total)) / scale
    half = z / scale * math.sqrt(share * (1 - share) / total + z**2 / (4 * total**2))
    return 100 * (middle - half), 100 * (middle + half)


def files_of(part: str) -> list[Path]:
    """The program's files in a part, room or file, from the project's folder."""
    found = []
    for name in PARTS.get(part, (part,)):
        path = ROOT / "rehearse" / name.removeprefix("rehearse/")
        if not path.exists():
            raise SystemExit(f"{name}: no room or file of rehearse/")
        found += sorted(path.rglob("*.py")) if path.is_dir() else [path]
    return [path.relative_to(ROOT) for path in found]


def near(files: list[Path]) -> list[str]:
    """The test files of the room that import one of its files, or what a folder of them shows."""
    modules = {".".join(f.with_suffix("").parts).removesuffix(".__init__") for f in files}
    tests = sorted((ROOT / "tests" / files[0].parts[1]).glob("test_*.py"))
    return [str(t.relative_to(ROOT)) for t in tests if _imported(t) & modules]


def _imported(path: Path) -> set[str]:
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.ImportFrom) and node.module:
            found |= {node.module, *(f"{node.module}.{alias.name}" for alias in node.names)}
    return found


def measure(part: str, options: argparse.Namespace) -> tuple[int, int]:
    """How many mutants of a part are killed, of how many; what survives is printed."""
    files = files_of(part)
    drawn, places = sample(files, options.sample, options.seed)
    killed = total = explained = 0
    with Copy() as copy:
        if not options.tests:
            copy.look(part, options.keep)
        wanted = {k: m for k, m in enumerate(drawn) if not options.only or k in options.only}
        tests = {
            k: options.tests or copy.reaching(m, options.seconds) or elsewhere(m)
            for k, m in wanted.items()
        }
        copy.control(sorted(set().union(*tests.values())))
        for number, mutant in wanted.items():
            killer = copy.killed_by(mutant, tests[number])
            killed, total = killed + bool(killer), total + 1
            reason = "" if killer else known(mutant)
            explained += bool(reason)
            if options.told or not killer:
                told = killer or reason or f"survived {len(tests[number])} tests"
                print(f"  {number}: {mutant.file}, {mutant.operator}: {told}")
                print(mutant.changed(), flush=True)
    if total:
        _report(f"{part}, drawn from {places} places", killed, total)
        print(f"  of the {total - killed} others {explained} are explained in {KNOWN.name}")
    return killed, total


def _report(what: str, killed: int, total: int) -> None:
    low, high = interval(killed, total)
    share = f"{100 * killed / total:.0f} % ({low:.0f}–{high:.0f} %)"
    print(f"{what}: {killed} of {total} killed, {share}", flush=True)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("parts", nargs="*", default=list(PARTS), metavar="PART")
    parser.add_argument("--sample", type=int, default=50, metavar="N", help="mutants a part")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", type=int, nargs="+", metavar="NUMBER", help="of the sample")
    parser.add_argument("--tests", nargs="+", metavar="TEST", help="these instead of those near")
    parser.add_argument("--keep", type=Path, metavar="FOLDER", help="for which test reaches what")
    parser.add_argument("--seconds", type=float, default=15.0, help="of tests for each mutant")
    parser.add_argument("--told", action="store_true", help="print the killed ones too")
    parser.add_argument("--least", type=float, default=85.0, metavar="PERCENT")
    options = parser.parse_args()
    killed = total = 0
    for part in options.parts:
        try:
            more = measure(part, options)
        except RuntimeError as error:
            print(error)
            return 2
        killed, total = killed + more[0], total + more[1]
    if not total:
        return 1
    _report(f"all, bound {options.least:.0f} %", killed, total)
    return 0 if 100 * killed / total >= options.least else 1


if __name__ == "__main__":
    sys.exit(main())

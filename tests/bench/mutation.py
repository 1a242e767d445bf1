"""Mutants: small faults put into the program, and whether the tests notice.

    python -m tests.bench.mutation ROOM_OR_FILE... [--most 60] [--seed 1] [--jobs 1] [--least 85]
        [--tests TEST...]

    python -m tests.bench.mutation music/correct.py cueing --most 100

The mutants are those of cosmic-ray (`pip install -e .[mutation]`): another operator or number,
a condition turned round, a loop that does not run. `--most` of each file are drawn by the seed.
Each is put into a copy of the project, never into this tree, and the tests near the file are run
against it until one fails: those of its room that import it, or a module of the room that does.
`--tests` names others, for a quick look: what survives these may be killed by the rest.
A mutant whose tests take five times as long as without it counts as killed.

Left out, because no test could tell: mutants of annotations and of `__all__`, and those that turn
`==` into `is`. What survives is printed as its changed lines, to be killed by a test or explained.
Exit status 1 when fewer than `--least` % of all were killed; 2 when the tests fail without any.
"""

from __future__ import annotations

import argparse
import ast
import difflib
import os
import random
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from queue import SimpleQueue

ROOT = Path(__file__).resolve().parents[2]
#: What a copy of the project needs for its tests.
COPIED = ("rehearse", "tests", "resources", "demo", "pyproject.toml", "README.md", "DEVELOPERS.md")
#: The operators used: names of cosmic-ray's, each standing for a slip of the pen.
OPERATORS = re.compile(
    r"core/(NumberReplacer|AddNot|ReplaceAndWithOr|ReplaceOrWithAnd|ZeroIterationForLoop"
    r"|ReplaceTrueWithFalse|ReplaceFalseWithTrue|ReplaceBreakWithContinue|ReplaceContinueWithBreak"
    r"|ReplaceUnaryOperator_(USub_UAdd|Delete_USub|Delete_Not)"
    r"|ReplaceBinaryOperator_(Add_Sub|Sub_Add|Mul_Add|Div_Mul|FloorDiv_Div|FloorDiv_Mul|Mod_Mul)"
    r"|ReplaceComparisonOperator_(Eq_NotEq|NotEq_Eq|Lt_LtE|LtE_Lt|Gt_GtE|GtE_Gt|Lt_GtE|GtE_Lt"
    r"|Gt_LtE|LtE_Gt|Is_IsNot|IsNot_Is))"
)


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


def mutants(file: Path, root: Path = ROOT) -> Iterator[Mutant]:
    """All mutants of a file that a test could tell from it."""
    from cosmic_ray.ast import ast_nodes, get_ast
    from cosmic_ray.mutating import mutate_code
    from cosmic_ray.plugins import get_operator, operator_names

    source = (root / file).read_text()
    seen = {_meaning(source)}
    for name in sorted(n for n in operator_names() if OPERATORS.fullmatch(n)):
        operator = get_operator(name)()
        places = sum(
            len(list(operator.mutation_positions(node))) for node in ast_nodes(get_ast(source))
        )
        for occurrence in range(places):
            code = mutate_code(source, operator, occurrence)
            meaning = code and _meaning(code)
            if meaning and meaning not in seen:
                seen.add(meaning)
                yield Mutant(file, name.removeprefix("core/"), source, code)


def _meaning(code: str) -> str | None:
    """What the code does, as text: annotations and the list of public names left out."""
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
    tree.body = [
        x for x in tree.body if not (isinstance(x, ast.Assign) and "__all__" in ast.dump(x))
    ]
    return ast.dump(tree)


def near(file: Path) -> list[str]:
    """The tests of a file: of its room, importing it or a module of the room that imports it."""
    room = file.parts[1]
    modules = {_module(file)}
    for other in sorted((ROOT / "rehearse" / room).rglob("*.py")):
        if _imports(other, modules):
            modules.add(_module(other.relative_to(ROOT)))
    tests = sorted((ROOT / "tests" / room).glob("test_*.py"))
    chosen = [t for t in tests if _imports(t, modules)] or tests
    # The test named after the file fails soonest.
    chosen.sort(key=lambda t: file.stem not in t.stem)
    return [str(t.relative_to(ROOT)) for t in chosen]


def _module(file: Path) -> str:
    return ".".join(file.with_suffix("").parts).removesuffix(".__init__")


def _imports(path: Path, modules: set[str]) -> bool:
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.ImportFrom) and node.module:
            names = {node.module, *(f"{node.module}.{alias.name}" for alias in node.names)}
            if names & modules:
                return True
    return False


def passes(copy: Path, tests: list[str], seconds: float) -> tuple[bool, str]:
    """Whether the tests pass in the copy within `seconds`, and the last line they print."""
    command = [sys.executable, "-m", "pytest", "-xq", "-p", "no:cacheprovider"]
    command += ["--hypothesis-seed=1", *tests]
    environment = os.environ | {
        "PYTHONPATH": str(copy), "QT_QPA_PLATFORM": "offscreen", "PYTHONDONTWRITEBYTECODE": "1"
    }  # fmt: skip
    with subprocess.Popen(
        command, cwd=copy, env=environment, text=True, start_new_session=True,
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
    ) as child:  # fmt: skip
        try:
            said, _ = child.communicate(timeout=seconds)
        except subprocess.TimeoutExpired:
            os.killpg(child.pid, 9)
            return False, "took too long"
    return child.returncode == 0, (said.strip().splitlines() or [""])[-1]


def survivors(chosen: list[Mutant], tests: list[str], copies: list[Path]) -> list[Mutant]:
    """The mutants that no test notices.

    Raises:
        RuntimeError: the tests fail without any mutant.
    """
    began = time.monotonic()
    good, said = passes(copies[0], tests, 1800.0)
    if not good:
        raise RuntimeError(f"{chosen[0].file}: the tests fail as they are: {said}")
    limit = 5 * (time.monotonic() - began) + 10
    free: SimpleQueue[Path] = SimpleQueue()
    for copy in copies:
        free.put(copy)

    def survives(mutant: Mutant) -> bool:
        copy = free.get()
        target = copy / mutant.file
        try:
            target.write_text(mutant.code)
            return passes(copy, tests, limit)[0]
        finally:
            target.write_text(mutant.source)
            free.put(copy)

    with ThreadPoolExecutor(len(copies)) as pool:
        return [m for m, alive in zip(chosen, pool.map(survives, chosen), strict=True) if alive]


def files_of(names: list[str]) -> list[Path]:
    """The program's files in the rooms or files named, from the project's folder."""
    found = []
    for name in names:
        path = ROOT / "rehearse" / name.removeprefix("rehearse/")
        if not path.exists():
            raise SystemExit(f"{name}: no room or file of rehearse/")
        found += sorted(path.rglob("*.py")) if path.is_dir() else [path]
    return [path.relative_to(ROOT) for path in found]


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("names", nargs="+", metavar="ROOM_OR_FILE")
    parser.add_argument("--most", type=int, default=60, metavar="N", help="mutants a file")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--least", type=float, default=85.0, metavar="PERCENT")
    parser.add_argument("--tests", nargs="+", metavar="TEST", help="these instead of those near")
    options = parser.parse_args()
    killed = total = 0
    with tempfile.TemporaryDirectory() as temporary:
        copies = [Path(temporary) / str(k) for k in range(options.jobs)]
        for copy in copies:
            for name in COPIED:
                source = ROOT / name
                (shutil.copytree if source.is_dir() else shutil.copy2)(source, _made(copy) / name)
        for file in files_of(options.names):
            every = list(mutants(file, copies[0]))
            if not every:
                continue
            chosen = random.Random(options.seed).sample(every, min(options.most, len(every)))
            try:
                alive = survivors(chosen, options.tests or near(file), copies)
            except RuntimeError as error:
                print(error)
                return 2
            killed, total = killed + len(chosen) - len(alive), total + len(chosen)
            share = f"{len(chosen) - len(alive)} of {len(chosen)} killed"
            print(f"{file}: {share}, drawn from {len(every)}", flush=True)
            for mutant in alive:
                print(f"  survived, {mutant.operator}\n{mutant.changed()}", flush=True)
    share = 100 * killed / total if total else 100.0
    print(f"all: {killed} of {total} killed, {share:.0f} %; bound {options.least:.0f} %")
    return 0 if total and share >= options.least else 1


def _made(folder: Path) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    return folder


if __name__ == "__main__":
    sys.exit(main())

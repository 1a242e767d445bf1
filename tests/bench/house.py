"""How the program's code is laid out: sizes, doubled names, imports inside functions, circles.

    python -m tests.bench.house

Exit status 1 when a file name or a class name stands twice, a file has more than 500 lines, or
modules import one another in a circle. Pages share the names of their parts, and packages the
name `__init__`.
"""

from __future__ import annotations

import ast
import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
SHARED = {"__init__.py", "page.py", "page_layout.py", "controller.py"}
SMALL, LARGEST, LONG = 60, 500, 30


def module_of(path: Path) -> str:
    """The dotted name of a file."""
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def imports(tree: ast.Module) -> Iterator[tuple[ast.Import | ast.ImportFrom, bool]]:
    """Every import that is run, and whether it stands inside a function."""
    todo: list[tuple[ast.AST, bool]] = [(tree, False)]
    while todo:
        node, inside = todo.pop()
        if isinstance(node, ast.Import | ast.ImportFrom):
            yield node, inside
        elif not (isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test)):
            within = inside or isinstance(node, ast.FunctionDef | ast.Lambda)
            todo += [(child, within) for child in ast.iter_child_nodes(node)]


def named(node: ast.Import | ast.ImportFrom, modules: set[str]) -> set[str]:
    """Modules of the program that an import names."""
    if isinstance(node, ast.Import):
        names = {alias.name for alias in node.names}
    else:
        names = {node.module or "", *(f"{node.module}.{alias.name}" for alias in node.names)}
    return names & modules


def circles(graph: dict[str, set[str]]) -> list[str]:
    """Modules that reach themselves; a package's own list of its parts does not count."""

    def reached(start: str) -> set[str]:
        seen: set[str] = set()
        todo = [*graph[start]]
        while todo:
            if (name := todo.pop()) not in seen:
                seen.add(name)
                todo += graph[name]
        return seen

    return sorted(name for name in graph if name in reached(name))


def doubled(names: list[str]) -> list[str]:
    """Those that stand more than once."""
    return sorted(name for name, count in Counter(names).items() if count > 1)


def main() -> int:
    """Print the figures; 1 when a bound is broken."""
    trees = {p: ast.parse(p.read_text()) for p in sorted((ROOT / "rehearse").rglob("*.py"))}
    lines = {path: len(path.read_text().splitlines()) for path in trees}
    packages = {module_of(p) for p in trees if p.name == "__init__.py"}
    modules = {module_of(p) for p in trees}
    graph: dict[str, set[str]] = {}
    inside = 0
    for path, tree in trees.items():
        found = list(imports(tree))
        inside += sum(within for _, within in found)
        graph[module_of(path)] = {
            name
            for node, within in found
            for name in named(node, modules) - packages
            if not within and module_of(path) not in packages
        }
    functions = [n for t in trees.values() for n in ast.walk(t) if isinstance(n, ast.FunctionDef)]
    classes = [n.name for t in trees.values() for n in t.body if isinstance(n, ast.ClassDef)]
    bad = {
        "file names that stand twice": doubled([p.name for p in trees if p.name not in SHARED]),
        "class names that stand twice": doubled(classes),
        f"files over {LARGEST} lines": [str(p) for p in trees if lines[p] > LARGEST],
        "modules in circles of imports": circles(graph),
    }
    small = [p for p in trees if lines[p] < SMALL and p.name != "__init__.py"]
    print(f"{len(trees)} files, {sum(lines.values())} lines, {len(small)} under {SMALL} lines")
    print(f"{inside} imports inside functions")
    long = sum((f.end_lineno or 0) - f.lineno >= LONG for f in functions)
    print(f"{long} of {len(functions)} functions over {LONG} lines")
    for what, names in bad.items():
        print(f"{len(names)} {what}: {', '.join(names)}" if names else f"0 {what}")
    return int(any(bad.values()))


if __name__ == "__main__":
    sys.exit(main())

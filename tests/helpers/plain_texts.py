"""Finds texts that people would read and that no catalogue is asked for.

A literal counts as a text when it holds two words, or one word with a capital: what a program
says to itself – keys, names of fields, SQL, styles – seldom looks like that, and what does stands
in the lists below with its reason.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

#: Calls whose texts nobody reads: names of things inside the program, patterns, logs.
_SILENT_CALLS = {
    *("setObjectName", "setProperty", "setStyleSheet", "compile", "getLogger", "warning", "error"),
    *("info", "TypeVar", "execute", "executemany", "key", "named", "key_of", "button", "dress"),
    *("allow", "search", "match", "sub", "split", "glob", "Muscle", "VoiceChoice", "find", "get"),
    *("setApplicationDisplayName", "QColor", "QKeySequence", "from_ndarray", "strftime"),
}
#: Errors that only a programmer meets; a ValueError with "; " in it is told (`halves`).
_OWN_ERRORS = {"TypeError", "RuntimeError", "KeyError", "OSError", "EOFError", "FileNotFoundError"}
_CODE = re.compile(
    r"SELECT|INSERT|CREATE |PRAGMA|GROUP BY|WHERE|ORDER BY|[{};]\n|qproperty|padding|\\b|\(\?|%Y"
    r"|^#|^--|^(Ctrl|Shift|Alt)\+|IS NULL|EXISTS|printf|sum\(|count\(|^\.|/|_src|^\w+\.\w+$"
)
_WORDS = re.compile(r"[A-Za-z’']{2,}[,:;.!?…%]? +[A-Za-z’'&]{2,}|^&?[A-Z][a-z]{2,}")

Found = tuple[str, int, str]


def unlooked(path: Path) -> Iterator[tuple[int, str]]:
    """Line and text of every literal that reads like a text and is not looked up."""
    for node in _read(parsed(path)):
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            text = node.value
        elif isinstance(node, ast.JoinedStr):
            text = "".join(v.value if isinstance(v, ast.Constant) else "…" for v in node.values)
        else:
            continue
        if _WORDS.search(text) and not _CODE.search(text):
            yield node.lineno, text


@cache
def parsed(path: Path) -> ast.Module:
    """A file's tree; read once for all that look for texts in it."""
    return ast.parse(path.read_text("utf-8"))


def _read(tree: ast.AST) -> Iterator[ast.AST]:
    """Every node but those in which no text is read."""
    waiting = [tree]
    while waiting:
        node = waiting.pop()
        yield node
        silent = {id(part) for part in _unread(node)}
        waiting += [n for n in ast.iter_child_nodes(node) if id(n) not in silent]


def _unread(node: ast.AST) -> Iterator[ast.AST]:
    """The parts of a node in which no text is read."""
    if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
        yield node.value  # a docstring
    elif isinstance(node, ast.Compare):
        yield from (n for n in (node.left, *node.comparators) if not isinstance(n, ast.Call))
    elif isinstance(node, ast.Dict):
        yield from (key for key in node.keys if key is not None)
    elif isinstance(node, ast.Subscript):
        yield node.slice
    elif isinstance(node, ast.Assign) and "__all__" in map(ast.unparse, node.targets):
        yield node.value
    elif isinstance(node, ast.Assert):
        yield from ast.iter_child_nodes(node)
    elif isinstance(node, ast.Raise) and isinstance(node.exc, ast.Call):
        name = getattr(node.exc.func, "id", "")
        text = ast.unparse(node.exc)
        if name in _OWN_ERRORS or (name == "ValueError" and "; " not in text):
            yield node.exc
    elif isinstance(node, ast.Call):
        yield from _unread_arguments(node)
    elif isinstance(node, ast.JoinedStr):
        yield from (v for v in node.values if isinstance(v, ast.Constant))
    elif isinstance(node, ast.AnnAssign | ast.arg):
        if node.annotation is not None:
            yield node.annotation
    elif isinstance(node, ast.FunctionDef) and node.returns is not None:
        yield node.returns
    elif isinstance(node, ast.ClassDef) and "StrEnum" in map(ast.unparse, node.bases):
        yield from node.body  # stored; read through `shown`


def _unread_arguments(call: ast.Call) -> Iterator[ast.AST]:
    name = getattr(call.func, "id", getattr(call.func, "attr", ""))
    if name in ("_", "ngettext"):
        yield from (a for a in call.args if isinstance(a, ast.Constant))
    elif name in _SILENT_CALLS:
        yield from call.args
    yield from (k for k in call.keywords if k.arg in ("merge", "name", "format", "comment"))


#: Literals that look like texts and are none, or are looked up where they are shown: a file (or the
#: head of a folder's path), a pattern for the whole literal, and why.
ALLOWED = (
    ("", "Rehearse|Enter|Return|Tab|Esc|Space|Backspace|Kind", "the program, keys, a type"),
    ("(app|ui/window|ui/awake).py", r"Fusion|\w+Page|Inhibit", "names of classes and calls"),
    ("handout/sheet/machine.py", ".*", "names of folders and of cuts of a font"),
    ("routine/start.py", "Routine", "the name of a folder where the song has none"),
    ("ui/actions.py", ".*", "words and tips are looked up by the factory"),
    (
        "ui/",
        "(no sound|other song|look only|good save|open zip|own voice|full out|set aside)",
        "ids",
    ),
    (
        "ui/",
        "(section drag …|Barlow .*|DejaVu Sans .*|Barlow.*ttf|contact sheet.*|Exec=.*|Page Up"
        "|Page Down)",
        "ids",
    ),
    (
        "ui/saving/",
        "(left out, …|by another program|before another program's)",
        "names of versions",
    ),
    ("ui/fonts.py", "DejaVu Sans Condensed", "a font"),
    ("ui/(recent|window).py", "front stance|RehearsePage . None", "a pose's name; a type"),
    (
        "(files/components|routine/demo|ui/flows/key_help|ui/film/scene).py",
        ".*",
        "fields of packages, files, a title",
    ),
    ("ui/pages/rehearse/controller.py", ".* plays", "states of the clicker's table; `shown`"),
    ("files/error_log.py", "Python …", "the log is in English"),
    ("(command_parser|handout/handout_options).py", r"%\(prog\)s .*", "names of options"),
    ("handout/make.py", r"Callable\[.*", "a type"),
    ("handout/naming.py", "[a-z]+(, [a-z]+)+", "patterns are stored; `shown` word by word"),
    ("handout/page/coach_page.py", "default-src .*", "a policy of the browser"),
    ("music/analysis/", ".*", "names of measured things"),
    ("music/mapfile.py", "(start|time)[ ,].*", "comments of the file; `shown` in sentences"),
    ("playback/stretch.py", ".*", "an error of the caller"),
    ("practice/cautions.py", "[a-z]+ [a-z]+", "places, keys of cautions.yaml"),
    ("practice/", "full out", "stored; `shown`"),
    ("practice/(passes|scope|summary).py", "(whole routine|marked stretch|too few)", "stored"),
    ("practice/export.py", ".*", "comma-separated tables are English; `shown` in tables"),
    ("practice/(database|schema|summary|pass_rows).py", ".*", "SQL"),
    (
        "practice/plan(_reasons|line).py",
        ".*(19|20)[0-9]{2}.*|common practice, no source",
        "sources",
    ),
    ("routine/checks/", "[a-z]+( [a-z]+)+", "names of moves, kinds of findings; `shown`"),
    (
        "routine/(poses|rounds|suggest|pose|movepicture|movekeys|posefile|look|model).py",
        ".*",
        "names",
    ),
    ("routine/merge_items.py", "own (pose|move)", "kinds; `shown`"),
    ("routine/rules.py", "bent forward, back to the judges", "a value of rule sets"),
    ("routine/versions.py", "given away as a copy", "the name of a version; `shown`"),
    ("session/", "(time heard|said at|called at|held from|relax at)", "headings of CSV files"),
    ("words.py", ".*", "languages' own names, folders of systems"),
    ("work/", ".*", "code for a child, a system's calls"),
)


def unlooked_in(package: Path) -> list[str]:
    """What is neither looked up nor allowed, each as "file:line text"."""
    found = []
    for path in sorted(package.rglob("*.py")):
        name = path.relative_to(package).as_posix()
        allowed = [text for place, text, _why in ALLOWED if re.match(place, name)]
        for line, text in unlooked(path):
            if not any(re.fullmatch(pattern, text, re.DOTALL) for pattern in allowed):
                found.append(f"{name}:{line} {text!r}")
    return found

"""Every bench stands in the one table, and the table in DEVELOPERS.md is the one of now."""

from __future__ import annotations

import ast
import datetime

import pytest

from tests.bench import __main__ as benches
from tests.bench import mutation


def test_every_bench_has_its_line_and_every_line_its_bench():
    files = {path.stem for path in benches.HERE.glob("*.py")} - {*benches.PARTS, "__init__"}
    named = [row["bench"] for row in benches.figures()]
    assert sorted(named) == sorted(files)
    assert named == sorted(named)


def test_the_table_in_the_contributors_file_is_the_one_that_is_printed():
    text = benches.DEVELOPERS.read_text(encoding="utf-8")
    assert benches.table() in text, "run `python -m tests.bench --write`"
    assert benches.with_table(text) == text


@pytest.mark.parametrize("row", benches.figures(), ids=lambda row: row["bench"])
def test_a_figure_says_when_and_on_what_it_was_measured(row):
    assert list(row) == list(benches.FIELDS)
    assert None not in row.values()
    assert "|" not in "".join(row.values())
    dated = bool(row["date"])
    assert dated == bool(row["machine"])
    if dated:
        assert datetime.date.fromisoformat(row["date"]) >= datetime.date(2026, 11, 25)
        assert row["machine"] in ("quiet", "busy", "any")
        assert row["figure"] not in ("", "–")
    if row["ratio"]:
        assert dated
        assert float(row["ratio"]) > 0


def test_every_bench_says_in_its_first_line_what_it_measures():
    for row in benches.figures():
        tree = ast.parse((benches.HERE / f"{row['bench']}.py").read_text(encoding="utf-8"))
        first = (ast.get_docstring(tree) or "").partition("\n")[0]
        assert len(first) > 20, row["bench"]


def test_the_share_of_mutants_killed_is_told_with_wilsons_interval():
    """By his formula: 45 of 50 are 78.6 to 95.7 %, all of 20 still may be 83.9 %."""
    assert mutation.interval(45, 50) == pytest.approx((78.64, 95.65), abs=0.01)
    assert mutation.interval(20, 20) == pytest.approx((83.89, 100.0), abs=0.01)


def test_every_mutant_that_is_explained_is_one_of_a_line_that_still_stands():
    for file, line, fault, reason in mutation.known_rows():
        lines = (mutation.ROOT / file).read_text(encoding="utf-8").splitlines()
        assert line in [text.strip() for text in lines], (file, line)
        assert fault != line
        assert len(reason) > 10


def test_an_explained_mutant_is_known_by_its_line_and_its_fault():
    file, line, fault, reason = mutation.known_rows()[0]
    source = (mutation.ROOT / file).read_text(encoding="utf-8")
    for code, told in ((fault, reason), (f"{line}  # another", "")):
        changed = source.replace(line, code, 1)
        assert mutation.known(mutation.Mutant(mutation.Path(file), "", source, changed)) == told

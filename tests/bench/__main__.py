"""All benches in one table, each with what it last measured: `python -m tests.bench`.

The figures stand in `figures.tsv`, one line a bench; whoever runs one writes down what it printed,
with the bound, the ratio of the two (figure over bound, so that 1 is just met; of speeds the other
way round they are told as they are), the date, and the machine: `quiet` or `busy` for two cores of
a server without and with other work, `any` where only the result counts and not the time. A bench
without a figure was not run since its last change. `--write` puts the table into DEVELOPERS.md.
"""

from __future__ import annotations

import argparse
import csv
from pathlib import Path

HERE = Path(__file__).parent
DEVELOPERS = HERE.parents[1] / "DEVELOPERS.md"
FIGURES = HERE / "figures.tsv"
FIELDS = ("bench", "options", "measures", "figure", "bound", "ratio", "date", "machine")
#: What other benches run, and no bench by itself.
PARTS = ("__main__", "hour_window", "monkey_window", "mutation_forks", "teller")
#: The lines that the table in DEVELOPERS.md begins and ends with.
HEAD = (
    "| bench | measures | last figure | bound | ratio | when, machine |",
    "| --- | --- | --- | --- | --- | --- |",
)


def figures() -> list[dict[str, str]]:
    """A line of `figures.tsv` for each bench, in its order."""
    with FIGURES.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream, delimiter="\t", quoting=csv.QUOTE_NONE))


def table() -> str:
    """The table as it stands in DEVELOPERS.md."""
    lines = list(HEAD)
    for row in figures():
        name = f"`{' '.join(filter(None, (row['bench'], row['options'])))}`"
        when = ", ".join(filter(None, (row["date"], row["machine"]))) or "not run"
        when = "looked at" if row["figure"] == "–" else when
        cells = (name, row["measures"], row["figure"], row["bound"], row["ratio"], when)
        lines.append(f"| {' | '.join(cells)} |")
    return "\n".join(lines)


def with_table(text: str) -> str:
    """DEVELOPERS.md with the table of now in the place of the one it has."""
    before, head, rest = text.partition(HEAD[0])
    if not head:
        raise SystemExit("DEVELOPERS.md has no table of benches.")
    lines = rest.splitlines(keepends=True)[1:]
    kept = next((k for k, line in enumerate(lines) if not line.startswith("|")), len(lines))
    return f"{before}{table()}\n{''.join(lines[kept:])}"


def main() -> None:
    """Print the table, or write it."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--write", action="store_true", help="put it into DEVELOPERS.md")
    if parser.parse_args().write:
        DEVELOPERS.write_text(with_table(DEVELOPERS.read_text(encoding="utf-8")), encoding="utf-8")
    else:
        print(table())


if __name__ == "__main__":
    main()

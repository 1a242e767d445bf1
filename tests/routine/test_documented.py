"""What the developers' page shows can be used as it stands."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from rehearse.files.yamlfile import parse_yaml
from rehearse.routine.routinedata import routine_data
from rehearse.routine.routinefile import read_routine
from rehearse.routine.rules import read_rules

PAGE = (Path(__file__).parents[2] / "DEVELOPERS.md").read_text(encoding="utf-8")
EXAMPLES = re.findall(r"```yaml\n(.*?)```", PAGE, re.DOTALL)


def test_the_example_of_a_routine_opens(song, catalogue):
    (example,) = (e for e in EXAMPLES if "\nposes:" in e)
    document = parse_yaml(example.encode(), Path("routine.yaml"))
    routine = read_routine(document, Path(), song, catalogue)
    written = set(routine_data(routine)) | {"beats"}
    assert written == {
        "format", "title", "track", "show", "division", "show_date", "rules", "beats", "stage",
        "poses", "sections", "own_poses", "id", "figure", "dress", "skin", "exit", "own_moves",
    }  # fmt: skip


@pytest.mark.parametrize("example", [e for e in EXAMPLES if "\nlimit:" in e])
def test_the_example_of_a_rule_set_is_read(example, tmp_path):
    path = tmp_path / "club.yaml"
    path.write_text(example)
    rules = read_rules(path)
    assert all((rules.limit, rules.minimum, rules.required, rules.mandatory, rules.remember))
    assert all((rules.forbidden[0].words, rules.forbidden[0].poses, rules.forbidden[0].why))

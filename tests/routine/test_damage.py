"""Whatever is done to the file: it opens or is refused in plain words, and is never changed."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from rehearse.files.user_error import UserError
from rehearse.files.yamlfile import dump_yaml
from rehearse.routine.folder import open_folder, save_folder
from rehearse.routine.routinedata import routine_data


@pytest.fixture(scope="module")
def saved(tmp_path_factory, routine, song):
    folder = tmp_path_factory.mktemp("damage")
    save_folder(folder, routine, song)
    return folder, (folder / "routine.yaml").read_bytes()


def look(folder, raw):
    (folder / "routine.yaml").write_bytes(raw)
    try:
        open_folder(folder)
    except UserError as error:
        for line in error.sentence.splitlines():
            assert line.endswith(".")
            assert "Traceback" not in line
    assert (folder / "routine.yaml").read_bytes() == raw


@settings(max_examples=150, deadline=None)
@given(st.integers(0, 2000), st.integers(0, 40), st.binary(max_size=12))
def test_bytes_torn_out_and_put_in(saved, place, length, put):
    folder, raw = saved
    place %= len(raw)
    look(folder, raw[:place] + put + raw[place + length :])


leaves = st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8)
anything = st.recursive(
    leaves,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner),
    max_leaves=6,
)
keys = st.sampled_from([
    "format", "title", "track", "show", "show_date", "rules", "beats", "stage", "poses",
    "sections", "own_poses",
])  # fmt: skip


@settings(
    max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(keys, anything)
@example("format", 10**400)
@example("track", "\0")
@example("track", "x" * 5000)
@example("poses", [{"pose": "crucifix", "hit": "999999999999999999999:1"}])
@example("poses", [{"pose": "crucifix", "hit": "1" + "0" * 400 + " s"}])
@example("poses", [{"pose": "crucifix", "hit": "1:1", "hold": "1" + "0" * 400 + " counts"}])
@example("stage", {"start": "0 s", "end": "1" + "0" * 5000 + " s"})
def test_values_of_any_kind(saved, routine, key, value):
    folder, _ = saved
    data = routine_data(routine)
    data[key] = value
    look(folder, dump_yaml(data))


@settings(
    max_examples=100, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(st.sampled_from(["id", "pose", "hit", "hold", "transition", "facing", "note"]), anything)
def test_values_of_any_kind_in_a_pose(saved, routine, key, value):
    folder, _ = saved
    data = routine_data(routine)
    data["poses"][1][key] = value
    look(folder, dump_yaml(data))


HEAD = "format: 1\ntitle: Hand\ntrack: song.wav\n"


@pytest.mark.parametrize(
    ("text", "sentences"),
    [
        ("", ["Routine.yaml, line 1: is not written as names and values"]),
        ("- a list\n", ["Routine.yaml, line 1: is not written as names and values"]),
        (f"{HEAD}poses: []\nown_poses:\n- {{facing: back}}\n- {{facing: front}}\n",
         ["line 6: name is missing", "line 7: name is missing"]),
        (f"{HEAD}poses: []\nsections:\n- {{name: A, start: 2:1}}\n", ["line 6: end is missing"]),
        (f"{HEAD}poses: []\nsections:\n- {{name: A, start: 5:1, end: 2:1}}\n",
         ["line 6: the section ends before it starts"]),
    ],
)  # fmt: skip
def test_one_mistake_by_hand_is_one_sentence(saved, text, sentences):
    folder, raw = saved
    (folder / "routine.yaml").write_text(text)
    try:
        with pytest.raises(UserError) as caught:
            open_folder(folder)
    finally:
        (folder / "routine.yaml").write_bytes(raw)
    told = caught.value.sentence.splitlines()
    assert len(told) == len(sentences)
    for line, sentence in zip(told, sentences, strict=True):
        assert sentence.lower() in line.lower()

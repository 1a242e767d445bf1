"""Safe YAML against the standard's own examples and PyYAML as reference.

Source: YAML Ain't Markup Language 1.2.2, section 10.3.2 (core schema, tag resolution).
"""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from rehearse.files.user_error import UserError
from rehearse.files.yamlfile import MAX_BYTES, dump_yaml, load_yaml, parse_yaml


def read(text):
    return parse_yaml(text.encode(), Path("made.yaml"))


@pytest.mark.parametrize(
    ("text", "value"),
    [  # YAML 1.2.2, section 10.3.2, example 10.9 and the table before it
        ("null", None), ("Null", None), ("~", None), ("", None),
        ("true", True), ("True", True), ("FALSE", False),
        ("0", 0), ("-19", -19), ("+12", 12),
        ("0.", 0.0), ("-0.0", 0.0), (".5", 0.5), ("+12e03", 12000.0), ("-2E+05", -200000.0),
        ("'on'", "on"), ("on", "on"), ("no", "no"), ("3:5", "3:5"), ("2027-04-17", "2027-04-17"),
        ("12:30:45", "12:30:45"), ("1_000", "1_000"),
    ],
)  # fmt: skip
def test_plain_words_mean_what_the_core_schema_says(text, value):
    found = read(f"word: {text}").data["word"]
    assert found == value
    assert type(found) is type(value)


plain = st.recursive(
    st.none() | st.booleans() | st.integers(-(10**9), 10**9) | st.text() | st.floats(-1e6, 1e6),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(), inner, max_size=4),
    max_leaves=12,
)


@given(st.dictionaries(st.text(), plain, max_size=5))
def test_what_is_written_is_read_back(data):
    assert parse_yaml(dump_yaml(data), Path("made.yaml")).data == data


@given(st.dictionaries(st.text(), plain, max_size=5))
def test_the_reference_reader_agrees_on_everything_quoted_or_nested(data):
    def as_text(value):
        if isinstance(value, dict):
            return {str(k): as_text(v) for k, v in value.items()}
        return [as_text(v) for v in value] if isinstance(value, list) else str(value)

    written = yaml.safe_dump(as_text(data), default_style='"', allow_unicode=True).encode()
    assert parse_yaml(written, Path("made.yaml")).data == yaml.safe_load(written)


def test_every_value_knows_its_line():
    document = read("a: 1\nb:\n- c: 2\n  d: |\n    x\n    y\n- 007\n")
    assert document.lines[("b",)] == 2
    assert document.lines[("b", 0, "d")] == 4
    assert document.where("b", 1) == "made.yaml, line 7"
    assert document.where("b", 0, "nothing") == "made.yaml, line 3"
    assert document.plain[("b", 1)] == "007"


@pytest.mark.parametrize(
    ("text", "line", "what"),
    [
        ("a: 1\nb: &x 2\n", 2, "alias"),
        ("a: 1\nb: *x\n", 2, "alias"),
        ("&a k: 1", 1, "alias"),
        ("a:\n  !!python/object/apply:os.system [ls]\n", 2, "tag"),
        ("a: !!int '3'\n", 1, "tag"),
        ("a: 1\nb: 2\na: 3\n", 3, "twice"),
        ("a: [1, 2\n", 2, "not valid YAML"),
        ("a: 1\n--- \nb: 2\n", 2, "second document"),
        ("? [1, 2]\n: 3\n", 1, "list where a name"),
        ("[" * 50 + "]" * 50, 1, "nested too deeply"),
    ],
)
def test_what_is_unsafe_or_damaged_is_refused_with_its_line(text, line, what):
    with pytest.raises(UserError, match=what) as caught:
        read(text)
    assert caught.value.where == f"made.yaml, line {line}"


def test_a_file_that_is_not_text_is_refused():
    with pytest.raises(UserError, match="UTF-8") as caught:
        parse_yaml(b"a: 1\nb: \xff\xfe\n", Path("made.yaml"))
    assert caught.value.where == "made.yaml, line 2"
    with pytest.raises(UserError, match="not valid YAML"):
        read("a: \x00\n")


def test_a_file_too_large_is_not_read(tmp_path):
    path = tmp_path / "large.yaml"
    with path.open("wb") as stream:
        stream.truncate(MAX_BYTES + 1)
    with pytest.raises(UserError, match="larger than 4 MB"):
        load_yaml(path)


def test_both_parsers_build_the_same(monkeypatch):
    text = "a: 3:5\nb: [1, ~, 'x', \"y\"]\nc: |\n  rows\nd: !!str 5\n"
    fast = read(text)
    monkeypatch.setattr("rehearse.files.yamlfile._Parser", yaml.SafeLoader)
    slow = read(text)
    assert (fast.data, fast.lines, fast.plain) == (slow.data, slow.lines, slow.plain)

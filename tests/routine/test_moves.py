"""Moves, turns, places and repeated hits in `routine.yaml`, and the catalogue of moves."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from rehearse.files.user_error import UserErrors
from rehearse.files.yamlfile import dump_yaml, parse_yaml
from rehearse.music.position import Count, Length, Seconds
from rehearse.routine.model import (
    Facing,
    Move,
    OwnMove,
    Place,
    Placed,
    Routine,
    Side,
)
from rehearse.routine.moves import load_moves
from rehearse.routine.routinedata import routine_data
from rehearse.routine.routinefile import read_routine

KINDS = load_moves().moves


def read(routine, song, catalogue):
    document = parse_yaml(dump_yaml(routine_data(routine)), Path("routine.yaml"))
    return read_routine(document, Path(), song, catalogue)


LENGTHS = st.one_of(
    st.integers(1, 32).map(lambda k: Length(k / 4)),
    st.integers(1, 8000).map(lambda k: Length(k / 1000, in_counts=False)),
)


@st.composite
def moves(draw):
    kind = draw(st.sampled_from(KINDS))
    return Move(
        id="",
        move=kind.name,
        length=draw(LENGTHS),
        side=draw(st.sampled_from([None, *Side])),
        direction=draw(st.sampled_from(["", *kind.directions])),
        note=draw(st.sampled_from(["", "low: lower", "# not a comment", "'quoted'", "ä – 臂"])),
    )


@settings(max_examples=60)
@given(
    moves=st.lists(moves(), max_size=6),
    facing=st.sampled_from([None, *Facing]),
    turn=st.sampled_from([None, *Side]),
    place=st.sampled_from([None, *Place]),
    again=st.sampled_from([(), (Count(3, 5),), (Count(3, 3, 2), Seconds(14.5))]),
)
def test_what_is_written_is_read_back(song, catalogue, moves, facing, turn, place, again):
    moves = tuple(replace(m, id=f"m{k}") for k, m in enumerate(moves))
    placed = Placed(
        "a", "front double biceps", Count(3, 1), Length(6), Length(8),
        facing=facing, turn=turn, place=place, again=again, moves=moves[:4],
    )  # fmt: skip
    routine = Routine(
        "Test", "song.wav", poses=(placed,), exit=moves[4:],
        own_moves=(OwnMove("lantern swing", say="swing"),), figure="woman", id="x",
    )  # fmt: skip
    assert read(routine, song, catalogue) == routine


def test_an_own_move_stands_for_its_name(song, catalogue):
    placed = Placed("a", "victory", Count(3, 1), moves=(Move("m", "lantern swing", Length(1)),))
    routine = Routine("Test", "song.wav", poses=(placed,), id="x")
    with pytest.raises(UserErrors, match="no move known here"):
        read(routine, song, catalogue)
    routine = replace(routine, own_moves=(OwnMove("Lantern swing"),))
    assert read(routine, song, catalogue).poses[0].moves[0].move == "Lantern swing"


@pytest.mark.parametrize(
    ("line", "what"),
    [
        ("turn: up", "turn: 'up' is not known"),
        ("place: moon", "place: 'moon' is not known"),
        ("again: [99:9]", "again: "),
        ("again: [99:1]", "again: the music has no count 99:1"),
        ("moves: [{move: gahter, length: 2 counts}]", "write gather"),
        ("moves: [{move: gather}]", "length is missing"),
        ("moves: [{move: gather, length: 2}]", "may be counts or seconds"),
        ("moves: [{move: walk on, length: 2 counts, direction: up}]", "direction: 'up'"),
        (
            "moves: [{id: m, move: bow, length: 1 s}, {id: m, move: bow, length: 1 s}]",
            "'m' is used twice",
        ),
    ],
)
def test_a_fault_says_what_and_where(song, catalogue, line, what):
    text = f"format: 2\ntitle: T\ntrack: a.wav\nposes:\n- pose: victory\n  hit: 3:1\n  {line}\n"
    with pytest.raises(UserErrors) as caught:
        read_routine(parse_yaml(text.encode(), Path("routine.yaml")), Path(), song, catalogue)
    (error,) = caught.value.errors
    assert what in error.sentence
    assert error.where.startswith("routine.yaml, line 7")


def test_counts_are_quoted_for_readers_of_the_older_standard(song, catalogue):
    """PyYAML's own loader reads YAML 1.1, where a bare 6:1 is 361 seconds (yaml.org, int type)."""
    assert yaml.safe_load("hit: 6:1")["hit"] == 361
    again = (Count(3, 5), Count(3, 5, 2))
    routine = Routine("T", "a.wav", poses=(Placed("a", "victory", Count(3, 1), again=again),))
    old = yaml.safe_load(dump_yaml(routine_data(routine)))["poses"][0]
    assert (old["hit"], old["again"]) == ("3:1", ["3:5", "3:5&"])


def test_format_1_opens_and_has_no_moves(song, catalogue):
    text = b"format: 1\ntitle: T\ntrack: a.wav\nposes:\n- pose: victory\n  hit: 3:1\n"
    routine = read_routine(parse_yaml(text, Path("routine.yaml")), Path(), song, catalogue)
    assert (routine.poses[0].hit, routine.poses[0].moves, routine.exit) == (Count(3, 1), (), ())
    assert routine_data(routine)["format"] == 2


def test_moves_are_found_by_the_words_people_type():
    catalogue = load_moves()
    assert len(catalogue.moves) >= 30
    for words, name in (("crouch", "gather"), ("small", "gather"), ("exit", "walk off")):
        assert catalogue.search(words)[0].name == name


def test_facings_go_round_in_eighths_to_the_athletes_right():
    assert [f.turned for f in Facing] == [45.0 * k for k in range(8)]
    assert Facing.LEFT_BACK.other_side is Facing.RIGHT_BACK
    assert Facing.FRONT.other_side is Facing.FRONT
    assert Facing.RIGHT_FRONT.quarter_turned() is Facing.LEFT_FRONT

"""Moves on paper, read back by an outside tool (pdftotext of Poppler): words at their counts."""

from __future__ import annotations

import io
import shutil
import subprocess
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from rehearse.handout.handout_source import make_source
from rehearse.handout.sheet import make_sheet, sheet_pictures
from rehearse.handout.sheet.chart import FreeLine, MoveLine, all_lines, part
from rehearse.handout.sheet.drawings import draw_stage, draw_turn
from rehearse.handout.sheet.eights import Eight
from rehearse.handout.sheet.movemarks import draw_moves, moves_of
from rehearse.handout.sheet.paper import PAPERS, Paper
from rehearse.handout.sheet.sheet_text import moves, stage_place
from rehearse.music.position import Count, Length, Seconds
from rehearse.routine.look import MAN
from rehearse.routine.model import Move, Place, Placed, Routine, Side
from rehearse.routine.moves import MoveKind
from rehearse.routine.way import Done
from tests.routine.conftest import make_song


def source(tmp_path, exit=True):
    poses = (
        Placed("a", "crucifix", Count(2, 1), Length(4), Length(2), again=(Count(2, 3),)),
        Placed(
            "b", "victory", Count(4, 1), Length(4), Length(8), turn=Side.LEFT, place=Place.LEFT,
            moves=(Move("m", "gather", Length(4)), Move("n", "reach up", Length(2), Side.RIGHT)),
        ),
    )  # fmt: skip
    off = (Move("o", "walk off", Length(4)),) if exit else ()
    routine = Routine("Moves", "a.wav", poses=poses, exit=off)
    return make_source(tmp_path, routine, make_song(eights=8))


def text_of(pdf, tmp_path):
    if not shutil.which("pdftotext"):
        pytest.skip("pdftotext (poppler-utils) is not installed")
    (tmp_path / "a.pdf").write_bytes(pdf)
    command = ["pdftotext", "-layout", str(tmp_path / "a.pdf"), "-"]
    return subprocess.run(command, check=True, capture_output=True, text=True).stdout


def test_moves_stand_at_their_counts_in_words(tmp_path):
    made = source(tmp_path)
    assert moves(made.sheet.cues[0], made) == "again on 2:3"
    # The transition of eight counts to 4:1 begins on 3:1.
    assert moves(made.sheet.cues[1], made) == (
        "3:1 gather  ·  3:5 reach up right  ·  off: 4:5 walk off"
    )


@pytest.mark.parametrize("style", ["pages", "wall"])
def test_the_sheet_prints_them(tmp_path, style):
    text = " ".join(text_of(make_sheet(source(tmp_path), style=style).pdf, tmp_path).split())
    for words in ("3:1 gather", "reach up right", "again on 2:3", "walk off"):
        assert words in text
    if style == "pages":
        assert "move begins" in text


def test_the_chart_has_them_under_their_counts(tmp_path):
    lines = [ln for ln in all_lines(source(tmp_path).sheet) if isinstance(ln, MoveLine)]
    assert [line.begun for line in lines] == [
        ((2.0, "again"),),
        ((0.0, "gather"), (4.0, "reach up right")),
        ((4.0, "walk off"),),
    ]


def test_a_routine_without_moves_prints_as_before(tmp_path):
    bare = source(tmp_path, exit=False)
    poses = tuple(replace(p, moves=(), again=(), turn=None, place=None) for p in bare.routine.poses)
    bare = make_source(tmp_path, replace(bare.routine, poses=poses), bare.beatmap)
    assert not any(isinstance(line, MoveLine) for line in all_lines(bare.sheet))
    assert "move begins" not in text_of(make_sheet(bare).pdf, tmp_path)
    assert stage_place(bare.sheet.cues[0], bare) is None


def inked(draw):
    """Where a drawing inside 40 × 40 mm is dark: mean place of its ink, in mm."""
    paper = Paper(PAPERS["a4"], "t")
    draw(paper)
    paper.end_page()
    (png,) = sheet_pictures(paper.finish(), 254)  # ten dots a millimetre
    dark = np.asarray(Image.open(io.BytesIO(png)))[:400, :400] < 100
    rows, columns = np.nonzero(dark)
    return columns.mean() / 10, rows.mean() / 10


def test_the_plan_of_the_stage_has_the_athletes_own_left_on_the_right_of_the_judges():
    left, right, front, back = (
        inked(lambda paper, where=where: draw_stage(paper, where, 10, 10, 20))
        for where in (Place.LEFT, Place.RIGHT, Place.FRONT, Place.BACK)
    )
    assert left[0] > right[0] + 1
    assert front[1] > back[1] + 0.5, "the judges are below"


def test_a_turn_is_told_by_its_arrow():
    left, right = (
        inked(lambda paper, turn=turn: draw_turn(paper, turn, 20, 20, 5))
        for turn in (Side.LEFT, Side.RIGHT)
    )
    # The gap of a left turn lies at the lower right, where its head points; mirrored for right.
    assert abs((left[0] - 20) + (right[0] - 20)) < 0.3
    assert abs(left[0] - right[0]) > 0.5


@given(st.lists(st.booleans(), min_size=1, max_size=60), st.floats(20.0, 120.0))
def test_what_is_begun_stays_under_its_eight_and_no_line_is_lost(with_moves, room):
    lines = []
    for number, begun in enumerate(with_moves):
        lines.append(Eight(number, ()))
        if begun:
            lines.append(MoveLine(float(number), ((0.0, "bow"),)))
    left, printed = tuple(lines), []
    while left:
        piece, later = part(left, 190.0, room, first=True)
        if not piece.lines:
            break
        for k, line in enumerate(piece.lines):
            if isinstance(line, MoveLine) and piece.rows > 1:
                assert k % piece.rows, "never alone at the top of a column"
        printed += [line for line in piece.lines if line is not None]
        assert len(later) < len(left)
        left = later
    assert tuple(printed) + left == tuple(lines)


def in_free_time(tmp_path):
    """The first four seconds of the song have no counts: a walk on, a pose, a hit again there."""
    poses = (
        Placed(
            "a", "crucifix", Seconds(2.5), Length(1.0, in_counts=False),
            Length(2.0, in_counts=False), again=(Seconds(3.0),),
            moves=(Move("m", "walk on", Length(1.5, in_counts=False)),),
        ),
        Placed(
            "b", "victory", Count(4, 1), Length(4), Length(4),
            moves=(Move("n", "gather", Length(2)),),
        ),
    )  # fmt: skip
    return make_source(tmp_path, Routine("Free", "a.wav", poses=poses), make_song(eights=8))


def test_what_is_begun_in_free_time_stands_on_the_chart_too(tmp_path):
    """Moves before the first count were left out of it."""
    made = in_free_time(tmp_path)
    assert made.beatmap.phase_at(1.0) is None
    lines = [ln for ln in all_lines(made.sheet) if isinstance(ln, FreeLine)]
    assert [(ln.time, ln.name) for ln in lines] == [(0.5, "walk on"), (3.0, "again")]
    text = " ".join(text_of(make_sheet(made).pdf, tmp_path).split())
    assert "0:00.5 walk on" in text


def test_each_move_is_printed_as_a_small_picture_beside_its_words(tmp_path):
    made = source(tmp_path)
    assert [d.kind.name for d in moves_of(made, made.sheet.cues[1])] == [
        "gather", "reach up", "walk off",
    ]  # fmt: skip
    both = moves_of(made, made.sheet.cues[1])[:2]

    def drawn(done):
        paper = Paper(PAPERS["a4"], "t")
        assert draw_moves(paper, done, MAN, tmp_path, 10, 10, 20) == ""
        paper.end_page()
        (png,) = sheet_pictures(paper.finish(), 127)  # five dots a millimetre
        return np.asarray(Image.open(io.BytesIO(png)).convert("L")).astype(int)

    one, two = drawn(both[:1]), drawn(both)
    dark = one < 200
    # Inside its own sixteen by twenty millimetres, and nowhere else.
    assert dark[50:150, 50:130].sum() > 400
    assert dark.sum() == dark[48:152, 48:132].sum()
    assert (two[50:150, 130:210] < 200).sum() > 400
    other = drawn(both[1:])
    assert np.abs(one - other)[50:150, 50:130].mean() > 10, "told apart"


def test_the_photo_of_an_own_move_is_printed_and_a_bad_one_is_told(tmp_path):
    (tmp_path / "pictures").mkdir()
    Image.new("RGB", (40, 60), "black").save(tmp_path / "pictures" / "swing.png")
    (tmp_path / "pictures" / "bad.png").write_bytes(b"no picture")
    kinds = (MoveKind("swing", 2.0, pictures=(f"pictures/{n}.png",)) for n in ("swing", "bad"))
    done = tuple(Done(kind, 0.0, 1.0) for kind in kinds)
    paper = Paper(PAPERS["a4"], "t")
    assert "pictures/bad.png cannot be read" in draw_moves(paper, done, MAN, tmp_path, 10, 10, 20)
    paper.end_page()
    (png,) = sheet_pictures(paper.finish(), 127)
    page = np.asarray(Image.open(io.BytesIO(png)).convert("L"))
    assert page[100, 85] < 50

"""Sizes for the distance, against ISO 9241-3 and NUREG-0700, and on the painted display."""

import itertools
from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QRectF
from PySide6.QtGui import QColor, QImage, QPainter

from rehearse.cueing.cue_state import Cue
from rehearse.cueing.cues import CueSheet
from rehearse.music.position import Count, Length
from rehearse.routine.checks import pose_checks
from rehearse.routine.model import Move, Placed, Routine, Side
from rehearse.routine.moves import load_moves
from rehearse.routine.poses import load_catalogue
from rehearse.ui import theme
from rehearse.ui.stage.fit import fit, fit_whole, start_of
from rehearse.ui.stage.layout import lay_out
from rehearse.ui.stage.paint import paint_stage
from rehearse.ui.stage.question import divide
from rehearse.ui.stage.resting_figure import at_its_place, figure_in_room
from rehearse.ui.stage.stage_options import GLANCE, StageOptions, ViewingDistance, height_mm
from rehearse.ui.stage.stage_text import names_of, sentence, two_words
from rehearse.ui.stage.still import fit_move, fit_name, move_box
from rehearse.ui.stage.text_cache import advance

from .made import renamed, sheet, steady

#: Width in pixels, height in pixels, width in millimetres: a small laptop, two usual ones, a
#: screen on a stand.
SCREENS = ((1366, 768, 293.8), (1920, 1080, 309.4), (1920, 1200, 301.6), (2560, 1440, 596.7))


@pytest.mark.parametrize(
    ("distance", "least", "glance"), [(3, 14.0, 19.2), (4, 18.6, 25.6), (5, 23.3, 32.0)]
)
def test_heights_of_the_standard(distance, least, glance):
    # Cap heights for 16' and 22' of arc, computed from the formula of NUREG-0700 rev. 2,
    # 1.3.1-4: 6.283 * distance * minutes / 21600; least and preferred minutes: ISO 9241-3.
    assert height_mm(distance, 16) == pytest.approx(least, abs=0.06)
    assert height_mm(distance, 22) == pytest.approx(glance, abs=0.06)


@pytest.mark.parametrize(("width", "height", "mm"), SCREENS)
@pytest.mark.parametrize("distance", [2.0, 3.0, 4.0, 5.0, 6.0])
@pytest.mark.parametrize("kind", ["pose", "moving", "note"])
def test_layout_keeps_to_the_least_sizes(width, height, mm, distance, kind):
    viewing = ViewingDistance(distance, mm / width)
    layout = lay_out(width, height, viewing, kind)
    assert layout.legible
    assert layout.cap == pytest.approx(viewing.pixels(GLANCE))
    assert layout.numeral.height >= layout.cap - 1e-6
    assert layout.name_cap >= layout.cap
    for box in (layout.strip, layout.words, layout.foot, layout.move):
        assert box is None or box.height in (0.0, pytest.approx(layout.cap))


@pytest.mark.parametrize(("width", "height", "mm"), SCREENS)
@pytest.mark.parametrize("distance", [2.0, 3.0, 4.0, 5.0, 6.0])
@pytest.mark.parametrize("kind", ["pose", "moving", "note"])
def test_nothing_lies_over_anything_else_nor_outside(width, height, mm, distance, kind):
    layout = lay_out(width, height, ViewingDistance(distance, mm / width), kind)
    own = {"name": layout.name, "numeral": layout.numeral, "sign": layout.sign, "move": layout.move}
    own |= {"strip": layout.strip, "ribbon": layout.ribbon}
    if not layout.shares:
        own["foot"] = layout.foot
    placed = {name: box for name, box in own.items() if box and box.width > 0}
    slack = 0.11 * layout.cap  # what hangs below a line may reach so far
    for name, box in placed.items():
        assert min(box.x, box.y) >= 0, name
        assert max(box.right - width, box.bottom - height) <= 0, name
        for other, place in placed.items():
            if name < other:
                across = min(box.right, place.right) - max(box.x, place.x)
                down = min(box.bottom, place.bottom) - max(box.y, place.y)
                assert across <= 1 or down <= slack, (name, other, across, down)


def test_layout_says_when_a_screen_is_too_small():
    assert not lay_out(1366, 768, ViewingDistance(9.0, 293.8 / 1366)).legible


def cues_of(names=None):
    """A cue for every pose of the catalogue (or for made-up names)."""
    poses = load_catalogue().poses if names is None else [own_pose(*n) for n in names]
    placed = Placed("00000001", "x", Count(2, 1))
    return [Cue(0, placed, p, p.facing, p.level, 0.0, 1.0, 2.0) for p in poses]


@pytest.mark.parametrize(("width", "height", "mm"), SCREENS)
@pytest.mark.parametrize("distance", [3.0, 4.5, 6.0])
def test_a_figure_at_rest_is_as_large_as_the_words_let_it(qapp, width, height, mm, distance):
    layout = lay_out(width, height, ViewingDistance(distance, mm / width), "note")
    grown = 0
    for cue in cues_of():
        taken = fit(
            ["Space: start"],
            layout.text.width,
            1e6,
            least=layout.cap,
            most=layout.cap,
            advance=advance,
        )
        figure = figure_in_room(layout, cue, ["Space: start"]).figure
        beneath = layout.figure
        assert min(figure.width, figure.height) >= min(beneath.width, beneath.height)
        if figure == beneath:
            continue
        grown += 1
        assert figure.right <= layout.whole.right + 1
        assert figure.bottom <= max(layout.name.bottom, layout.sign.y)
        for fitted, top in ((fit_name(layout, cue), layout.name.y), (taken, layout.text.y)):
            wide = max(advance(line) for line in fitted.lines) * fitted.cap
            over = min(figure.bottom, top + fitted.height) - max(figure.y, top)
            assert figure.x > layout.name.x + wide or over <= 1, (cue.name, figure)
    assert (grown > 0) == (beneath.y >= layout.name.bottom)


@pytest.mark.parametrize(
    ("width", "height", "mm", "distance", "stands"),
    [(2560, 1440, 597, 4.0, True), (1920, 1080, 527, 3.0, True), (1366, 768, 309, 4.0, False)],
)
def test_a_figure_at_rest_stands_where_it_will_in_the_pass_where_all_is_read(
    qapp, width, height, mm, distance, stands
):
    """On a wide screen it was a third as large as there was room for."""
    viewing = ViewingDistance(distance, mm / width)
    note, pose = (lay_out(width, height, viewing, kind) for kind in ("note", "pose"))
    words = ["Space: start"]
    for cue in cues_of():
        cue = replace(cue, placed=replace(cue.placed, note="Rise with the music."))
        rests = at_its_place(note, pose, cue, words)
        assert (rests is not None) == stands, cue.name
        if rests is None:
            continue
        assert (rests.figure, rests.name, rests.sign) == (pose.figure, pose.name, pose.sign)
        assert min(rests.figure.width, rests.figure.height) > 1.2 * min(
            note.figure.width, note.figure.height
        )
        boxes = [rests.figure, rests.name, rests.text, rests.numeral, rests.sign]
        for one, other in itertools.combinations(boxes, 2):
            across = min(one.right, other.right) - max(one.x, other.x)
            down = min(one.bottom, other.bottom) - max(one.y, other.y)
            assert across <= 1 or down <= 1, (one, other)


def test_a_note_that_has_no_room_beside_the_figure_keeps_the_whole_width(qapp):
    viewing = ViewingDistance(4.0, 597 / 2560)
    note, pose = (lay_out(2560, 1440, viewing, kind) for kind in ("note", "pose"))
    [cue] = cues_of()[:1]
    cue = replace(cue, placed=replace(cue.placed, note="Rise with the music, not after it. " * 9))
    assert at_its_place(note, pose, cue, ["Space: start"]) is None


def own_pose(name, say=""):
    return replace(load_catalogue().find("crucifix"), name=name, say=say)


OWN = (
    ("lantern over the left shoulder, look right", "lantern left"),
    ("the long slow turning double biceps of my coach", "coach double"),
    ("Überkreuzt gebeugt links", ""),
    ("kneeling side triceps right with the chin up", ""),
    ("lantern swing", ""),
    ("copper lanterns rising", ""),
    ("schulterblattdrehung", ""),
)


@pytest.mark.parametrize(("width", "height", "mm"), SCREENS)
@pytest.mark.parametrize("distance", [2.0, 3.0, 4.0, 5.0, 6.0])
@pytest.mark.parametrize("kind", ["pose", "moving", "note"])
def test_every_name_is_whole_large_enough_and_keeps_its_side(
    qapp, width, height, mm, distance, kind
):
    viewing = ViewingDistance(distance, mm / width)
    layout = lay_out(width, height, viewing, kind)
    for cue in cues_of():
        fitted = fit_name(layout, cue)
        words = " ".join(fitted.lines)
        assert fitted.cap >= viewing.pixels(GLANCE) - 0.01, (cue.name, words)
        assert words in names_of(cue)
        assert "…" not in words
        for side in ("left", "right"):
            assert (side in words.lower()) == (side in cue.name.lower()), words
        assert fitted.height <= layout.name.height + 0.5
        for line in fitted.lines:
            assert advance(line) * fitted.cap <= layout.name.width + 0.5


@pytest.mark.parametrize(("width", "height", "mm"), SCREENS)
@pytest.mark.parametrize("distance", [2.0, 4.0, 6.0])
def test_own_names_are_never_cut(qapp, width, height, mm, distance):
    layout = lay_out(width, height, ViewingDistance(distance, mm / width))
    for cue in cues_of(OWN):
        fitted = fit_name(layout, cue)
        plain = {name.replace("-", "").replace(" ", "") for name in names_of(cue)}
        assert "".join(fitted.lines).replace("-", "").replace(" ", "") in plain
        assert fitted.height <= layout.name.height + 0.5
        assert all(advance(x) * fitted.cap <= layout.name.width + 0.5 for x in fitted.lines)
        # Large enough, too, with a short form, or where the checks ask for none.
        if cue.pose.say or pose_checks.fits(cue.name):
            assert fitted.cap >= layout.cap - 0.01, cue.name


@pytest.mark.parametrize(("width", "height", "mm"), SCREENS)
@pytest.mark.parametrize("distance", [2.0, 4.0, 6.0])
@pytest.mark.parametrize("names", [None, OWN], ids=["catalogue", "own"])
def test_where_it_was_lost_is_answered_by_whole_names(qapp, width, height, mm, distance, names):
    """Long names gave way, so that numbers stood by themselves."""
    viewing = ViewingDistance(distance, mm / width)
    layout, cues = lay_out(width, height, viewing, "ask"), cues_of(names)
    for pointed in (None, *range(0, len(cues), 7), len(cues) - 1):
        question = "Where did you lose it?" if pointed is None else f"Lost at {pointed + 1}?"
        asked, rows = divide(layout, question, cues, pointed)
        assert (len(cues) - 1 if pointed is None else pointed) in [row.index for row in rows]
        top = layout.whole.y + (asked.height if asked else 0.0)
        for row in rows:
            cue = cues[row.index]
            plain = {text.replace("-", "").replace(" ", "") for text in names_of(cue)}
            words = "".join(row.name.lines).replace("-", "").replace(" ", "")
            assert (words if row.hangs else words.lstrip("0123456789")) in plain
            if names is None or cue.pose.say or pose_checks.fits(cue.name):
                assert row.name.cap >= layout.cap - 0.01, cue.name
            assert all(
                advance(line) * row.name.cap <= row.room.width + 1 for line in row.name.lines
            )
            assert top - 1 <= row.box.y
            foot = row.box.y + row.name.height
            assert foot <= layout.whole.bottom + 0.33 * layout.cap
            others = (r for r in rows if r.box.x == row.box.x and r.box.y > row.box.y)
            assert all(foot <= other.box.y + 1 for other in others)


@pytest.mark.parametrize(("width", "height", "mm"), SCREENS[:2])
def test_the_name_beside_a_number_is_painted_22_minutes_high(qapp, width, height, mm):
    viewing = ViewingDistance(4.0, mm / width)
    cue_sheet = renamed(sheet(), 1, "Kneeling side triceps right")
    cues = [replace(c, pose=replace(c.pose, say="")) for c in cue_sheet.cues]
    cue_sheet = replace(cue_sheet, cues=tuple(cues))
    layout = lay_out(width, height, viewing, "ask")
    picture = QImage(width, height, QImage.Format.Format_RGB32)
    with QPainter(picture) as painter:
        options = StageOptions(viewing=viewing, state="done", question="Lost at 2?", pointed=1)
        rect = QRectF(0, 0, width, height)
        paint_stage(painter, rect, cue_sheet.at(1.0), cue_sheet, options=options)
    data = np.frombuffer(picture.constBits(), np.uint8).reshape(height, width, 4)
    room = replace(layout.whole, x=layout.whole.x + 1.8 * layout.cap, width=3 * layout.cap)
    assert len(rows_of(data[:, :, 2::-1].astype(int), theme.NEXT, room)) >= layout.cap - 1


@pytest.mark.parametrize(("width", "height", "mm"), SCREENS)
@pytest.mark.parametrize("distance", [2.0, 3.0, 4.0, 5.0, 6.0])
def test_every_move_is_whole_and_large_enough(qapp, width, height, mm, distance):
    viewing = ViewingDistance(distance, mm / width)
    layout = lay_out(width, height, viewing, "moving")
    if layout.move is None:  # from so far away only the name and its countdown have room
        assert distance >= 5
        return
    for move in moves_written():
        fitted = fit_move(layout, move)
        assert fitted.lines[0] in (sentence(move.text), sentence(move.short))
        assert fitted.cap >= viewing.pixels(GLANCE) - 0.01, move
        for side in ("left", "right"):
            assert (side in fitted.lines[0]) == (side in move.text), move
        assert advance(fitted.lines[0]) * fitted.cap <= move_box(layout).width + 0.5


def moves_written():
    """Every move of the catalogue with each side and direction, as a routine has it."""
    moves = [
        Move("m", kind.name, Length(1), side, direction)
        for kind in load_moves().moves
        for side in ((Side.LEFT, Side.RIGHT) if kind.sided else (None,))
        for direction in ("", *kind.directions)
    ]
    beats = steady(120.0, 300.0)
    pose = Placed(
        "p", "crucifix", beats.counts[-8], Length(1), Length(len(moves)), moves=tuple(moves)
    )
    (cue,) = CueSheet.compile(Routine("t", "t", poses=(pose,)), beats, load_catalogue()).cues
    assert len(cue.moves) == len(moves)
    return cue.moves


def test_the_short_form_never_loses_left_or_right():
    (cue,) = cues_of([("side triceps right", "triceps")])
    assert names_of(cue) == ("Side triceps right", "Triceps right")


@pytest.mark.parametrize(
    ("note", "words"),
    [
        ("Rise with the music, not after it.", "Rise music"),
        ("Quarter turn first, then close the hands.", "Quarter turn"),
        ("elbows forward", "Elbows forward"),
        ("Breathe.", "Breathe"),
        ("", ""),
    ],
)
def test_two_words_of_a_note(note, words):
    assert two_words(note) == words


def test_of_a_note_as_many_words_are_shown_as_have_room():
    # Letters of one cap height each, on lines of ten letters, two lines high.
    shown = start_of("rise with the music and stay", 100.0, 27.0, cap=10.0, advance=len)
    assert shown.lines == ("rise with", "the music")
    assert start_of("rise", 100.0, 9.0, cap=10.0, advance=len) is None


def test_a_word_longer_than_the_screen_goes_on_after_a_hyphen_and_is_large_enough():
    """It was set at a tenth of the least size, on one line."""
    fitted = fit_whole(("lanternswing",), 85.0, 60.0, least=10.0, most=14.0, advance=len)
    assert fitted.lines == ("lantern-", "swing")
    assert fitted.cap >= 10.0
    # Where not even that has room it is smaller, and still whole.
    fitted = fit_whole(("a" * 60,), 55.0, 60.0, least=10.0, most=14.0, advance=len)
    assert "".join(line.removesuffix("-") for line in fitted.lines) == "a" * 60
    assert fitted.cap > 60.0 / 60
    assert fit(("a" * 60,), 55.0, 60.0, least=10.0, most=14.0, advance=len) is None


def paint(cue_sheet, cue_state, width, height, viewing):
    picture = QImage(width, height, QImage.Format.Format_RGB32)
    painter = QPainter(picture)
    options = StageOptions(viewing=viewing)
    paint_stage(painter, QRectF(0, 0, width, height), cue_state, cue_sheet, options=options)
    painter.end()
    data = np.frombuffer(picture.constBits(), np.uint8).reshape(height, width, 4)
    return data[:, :, 2::-1].astype(int)


def rows_of(pixels, colour, box):
    wanted = np.array(QColor(colour).getRgb()[:3])
    x, y = int(box.x), int(box.y)
    part = pixels[max(0, y - 12) : int(box.bottom) + 2, x : int(box.right)]
    same = np.abs(part - wanted).max(axis=2) < 8
    return np.flatnonzero(same.any(axis=1))


@pytest.mark.parametrize(("width", "height", "mm"), SCREENS[:2])
def test_painted_name_and_numeral_measure_22_minutes(qapp, width, height, mm):
    # ISO 9241-3: 20-22' preferred; measured on the pixels, not on the layout's word.
    viewing = ViewingDistance(4.0, mm / width)
    cue_sheet = renamed(sheet(), 1, "Hhhh Hhhh")
    cue = cue_sheet.cues[1]
    cue_state = cue_sheet.at(cue.hit - 0.2)
    pixels = paint(cue_sheet, cue_state, width, height, viewing)
    layout = lay_out(width, height, viewing)
    numeral = rows_of(pixels, theme.INK, layout.numeral)
    assert numeral.max() - numeral.min() + 1 >= viewing.pixels(GLANCE)
    name = rows_of(pixels, theme.NEXT, layout.name)
    first_line = name[: np.argmax(np.diff(name) > 1) + 1] if (np.diff(name) > 1).any() else name
    assert len(first_line) >= viewing.pixels(GLANCE) - 1

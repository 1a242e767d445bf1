"""The coach's page as a file: complete in itself, closed to strangers' text, small, in time.

The policy is checked by the rules of Content Security Policy Level 3 (W3C): what is named by the
SHA-256 of its text may run, nothing else. The page in a browser: `test_page_browser.py`.
"""

from __future__ import annotations

import base64
import hashlib
import html.parser
import io
import json
import re
from dataclasses import replace

import av
import numpy as np
import pytest

from rehearse.files.user_error import UserError
from rehearse.handout.handout_source import make_source
from rehearse.handout.make import make
from rehearse.handout.page import LONGEST_PAGE, make_page
from rehearse.handout.page import coach_page as making
from rehearse.handout.page.figures import UNIT, figures_of
from rehearse.handout.page.page_data import COLOURS
from rehearse.music.track import Track
from rehearse.routine.anatomy import figure_parts
from rehearse.routine.model import OwnPose, StagePart
from rehearse.ui import theme
from rehearse.ui.figure import painter

HOSTILE = "</script><script>window.ran=1</script><img src=x onerror=window.ran=2>\u2028{{music}}"


class Elements(html.parser.HTMLParser):
    """The elements of a page with their attributes, and the text of scripts and styles."""

    def __init__(self, text):
        super().__init__()
        self.found, self.texts, self._open = [], [], False
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.found.append((tag, dict(attrs)))
        self._open = tag in ("script", "style")
        if self._open:
            self.texts.append("")

    def handle_endtag(self, tag):
        self._open = False

    def handle_data(self, data):
        if self._open:
            self.texts[-1] += data


@pytest.fixture(scope="module")
def page(source, track):
    return make_page(source, track, "0123456789abcdef").decode()


@pytest.fixture(scope="module")
def elements(page):
    return Elements(page)


def inside(page, name):
    """The text of the script element called `name`."""
    return re.search(rf'<script type="[a-z/]+" id="{name}">(.*?)</script>', page, re.S)[1]


def test_it_needs_nothing_from_anywhere(elements):
    for tag, attributes in elements.found:
        assert tag not in ("link", "iframe", "object", "embed", "base", "form")
        assert not {"src", "href", "srcset", "action"} & set(attributes), tag
    style = elements.texts[0]
    assert "url(" not in style
    assert "@import" not in style


def test_only_its_own_script_and_style_may_run(elements):
    metas = [a for tag, a in elements.found if tag == "meta"]
    (policy,) = [a["content"] for a in metas if a.get("http-equiv") == "Content-Security-Policy"]
    rules = dict(rule.strip().split(" ", 1) for rule in policy.split(";"))
    style, script = elements.texts[0], elements.texts[-1]
    for kind, text in (("style-src", style), ("script-src", script)):
        digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
        assert rules[kind] == f"'sha256-{digest}'"
    assert rules["default-src"] == rules["base-uri"] == rules["form-action"] == "'none'"
    assert (rules["media-src"], rules["img-src"]) == ("blob:", "data:")
    assert not [a for _, a in elements.found if any(name.startswith("on") for name in a)]
    # Text is put in as text: nothing in the script reads markup or code.
    for way in (
        "innerHTML",
        "outerHTML",
        "insertAdjacentHTML",
        "document.write",
        "eval(",
        "Function(",
    ):
        assert way not in script


def test_hostile_names_stay_text(source, track):
    routine = source.routine
    poses = tuple(replace(p, note=HOSTILE) for p in routine.poses)
    poses = (replace(poses[0], pose="x<b>"), *poses[1:])
    own = (OwnPose("x<b>"),)
    hostile = replace(routine, title=HOSTILE, show=HOSTILE, poses=poses, own_poses=own)
    page = make_page(make_source(source.folder, hostile, source.beatmap), track, HOSTILE).decode()
    elements = Elements(page)
    assert [tag for tag, _ in elements.found].count("script") == 4
    assert "onerror" not in [name for _, attributes in elements.found for name in attributes]
    values = json.loads(inside(page, "routine"))
    assert values["title"] == HOSTILE
    assert values["cues"][1]["note"] == HOSTILE
    assert values["cues"][0]["name"] == "X<b>"
    assert len(page) < LONGEST_PAGE


def test_times_and_countdown_are_those_of_the_stage_display(page, source):
    values, sheet = json.loads(inside(page, "routine")), source.sheet
    assert [c["id"] for c in values["cues"]] == [c.placed.id for c in sheet.cues]
    for cue, told in zip(sheet.cues, values["cues"], strict=True):
        assert told["hit"] == pytest.approx(cue.hit - sheet.start, abs=1e-4)
        for time, text, counted in told["steps"]:
            moment = sheet.at(time + sheet.start + 1e-3)
            assert moment.next is cue
            if counted:
                assert text == moment.numeral
    assert [p["name"] for p in values["parts"]] == ["whole routine", "Opening", "Back"]


def test_the_music_in_it_is_the_stage_part(page, source, track):
    data = base64.b64decode(inside(page, "music"))
    with av.open(io.BytesIO(data)) as opened:
        assert opened.streams.audio[0].codec_context.name == "aac"
        blocks = [f for f in opened.decode(audio=0) if f.pts >= 0]
    sound = np.concatenate([b.to_ndarray() for b in blocks], axis=1).mean(axis=0)
    rate, start = track.sample_rate, source.sheet.start
    assert len(sound) / rate == pytest.approx(source.length, abs=0.03)
    song = track.samples.mean(axis=1)
    first = round((start + 4.0) * rate)
    wanted = song[first : first + rate // 2]
    window = sound[round(3.95 * rate) : round(4.55 * rate)]
    lag = np.argmax(np.correlate(window, wanted, "valid")) / rate - 0.05
    assert abs(lag) <= 0.002


def test_its_figures_are_the_programs_own(source):
    figures = figures_of(source.sheet, 10**9)
    cue = source.sheet.cues[1]
    parts = figure_parts(cue.pose.seen(cue.facing, cue.level), cue.pose.look)
    frame = figures.frames[figures.stills[1]]
    rows = frame[1:].reshape(int(frame[0]), 15)
    assert np.argsort(rows[:, 2]).tolist() == parts.order.tolist()
    balls = rows[:, 3:].reshape(-1, 4, 3) / UNIT
    assert np.abs(balls[..., :2] - parts.centres).max() < 1e-4
    first, count = figures.ways[1]
    assert np.array_equal(figures.frames[first + count - 1], frame)
    assert len(figures_of(source.sheet, 1).frames) < len(figures.frames)


def test_its_colours_are_the_stage_displays():
    from PySide6.QtGui import QColor

    for skin, colours in COLOURS.items():
        look = replace_skin(skin)
        tones = painter._tones(look, QColor(theme.INK), QColor(theme.NEXT), QColor(theme.GROUND))
        for tone, colour in colours.items():
            assert tones[tone].name() == colour, (skin, tone)


def replace_skin(skin):
    from rehearse.routine.look import MAN

    return replace(MAN, skin=skin)


def test_a_long_song_is_made_small_and_one_without_end_refused(source, track, monkeypatch):
    rate = 8000
    song = np.random.default_rng(1).normal(0, 0.1, (int(160 * rate), 2)).astype(np.float32)
    long = Track(song, rate, "long")
    beatmap = replace(source.beatmap, duration=160.0)
    routine = replace(source.routine, stage=StagePart(0.0, 160.0))
    page = make_page(make_source(source.folder, routine, beatmap), long, "x")
    assert len(page) <= LONGEST_PAGE
    monkeypatch.setattr(making, "LONGEST_PAGE", 100_000)
    with pytest.raises(UserError, match="0 are the most"):
        make_page(source, track, "x")


def test_it_is_made_by_its_name_and_keeps_the_state_it_shows(folder, tmp_path):
    (path,) = make(folder, "page", tmp_path).paths
    assert path.name == "Test Night Übung page.html"
    assert len(list((folder / "versions").glob("*.yaml"))) == 1
    with pytest.raises(UserError, match="choose html"):
        make(folder, "page", tmp_path / "a.pdf")

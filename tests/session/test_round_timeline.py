"""A round in time: what is said, held and shown, by its files and second by second."""

from __future__ import annotations

import csv
import shutil
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import soundfile
from PySide6.QtGui import QImage

from rehearse.cueing.voice import SpeechEngine
from rehearse.music.track import Track
from rehearse.practice.history import calendar
from rehearse.practice.logbook import Logbook
from rehearse.routine.poses import load_catalogue
from rehearse.routine.rounds import RELAX, RoundWish, make_round
from rehearse.routine.rules import load_rules
from rehearse.session.round_dry_run import dry_round
from rehearse.session.round_timeline import lay_out, loop_passes_of, measure_with, view_at
from rehearse.ui.stage.stage_png import StagePictures
from tests.helpers.heard import heard_at

DEMO = Path(__file__).resolve().parents[2] / "demo" / "copper-lights"
CATALOGUE = load_catalogue()


def timeline(kind="mandatories", measure=lambda text: 0.1 * len(text), **wishes):
    made = make_round(load_rules("nga-amateur"), RoundWish(kind, **wishes), CATALOGUE)
    return lay_out(made, measure)


def test_a_hold_runs_from_the_end_of_the_words_to_relax():
    laid = timeline(hold=7.0, longest=7.0, rest=3.0)
    for one, following in pairwise(laid.calls):
        assert one.hit - one.at == pytest.approx(0.1 * len(one.call.say))
        assert one.relax - one.hit == pytest.approx(7.0)
        assert following.at - one.relax == pytest.approx(0.1 * len(RELAX) + 3.0)


def test_turn_follows_turn_without_a_word_between():
    laid = timeline("turns")
    for one, following in pairwise(laid.calls):
        assert one.relax == following.at
    assert [text for _, text in laid.texts].count(RELAX) == 1


def test_what_cannot_be_said_is_clicked_and_timed_all_the_same():
    laid = timeline(measure=lambda text: None)
    track = Track(np.zeros((8000 * 20, 2), np.float32), 8000, "silence")
    clips = [clip for loop_pass in loop_passes_of(laid, track, None) for clip in loop_pass.clips]
    assert {clip.kind for clip in clips} == {"click"}
    assert len(clips) == len(laid.texts)


def test_loop_passes_cover_the_round_without_a_gap():
    laid = timeline("both", callouts=2)
    track = Track(np.zeros((8000 * 11, 2), np.float32), 8000, "music")
    loop_passes = loop_passes_of(laid, track, None)
    assert [loop_pass.end for loop_pass in loop_passes[:-1]] == [11.0] * (len(loop_passes) - 1)
    assert sum(loop_pass.end for loop_pass in loop_passes) == pytest.approx(laid.end, abs=0.01)
    heard = [
        float(loop_pass.key) * 11 + clip.at for loop_pass in loop_passes for clip in loop_pass.clips
    ]
    assert heard == pytest.approx([at for at, _ in laid.texts])


def test_the_stage_shows_the_call_with_its_countdown_and_never_the_next_one():
    laid = timeline("random", seed=1)
    first = laid.calls[0]
    before = view_at(laid, 0.0)
    assert (before.state, before.cue_state.next.name) == ("rest", "get ready")
    assert before.rest == pytest.approx(first.at)
    said = view_at(laid, first.at + 0.01)
    assert (said.state, said.cue_state.next.name) == ("music", first.call.pose.name)
    assert said.cue_state.numeral == "10"
    assert said.cue_state.travel < 0.1
    held = view_at(laid, first.hit + 3.5)
    assert (held.cue_state.numeral, held.cue_state.travel, held.counted) == ("7", 1.0, "1/8")
    assert held.cue_state.rim == pytest.approx(0.35)
    rest = view_at(laid, first.relax + 1.0)
    assert (rest.state, rest.cue_state.next.name) == ("rest", "relax")
    assert rest.cue_state.next is view_at(laid, first.relax + 2.0).cue_state.next


def test_a_woman_of_physique_is_shown_by_her_own_figure():
    made = make_round(
        load_rules("nff-womens-physique-pro"), RoundWish("mandatories"), CATALOGUE, figure="woman"
    )
    laid = lay_out(made, lambda text: 1.0)
    assert laid.sheet.cues[0].name == "front double biceps open hands"


@pytest.fixture(scope="module")
def files(tmp_path_factory, qapp):
    place = tmp_path_factory.mktemp("rounds")
    folder = Path(shutil.copytree(DEMO, place / "copper-lights"))
    wish = RoundWish("random", 2.0, 4.0, rest=1.0, calls=4, callouts=2, between=2.0, seed=5)
    speech_engine = SpeechEngine()
    made = dry_round(folder, place / "out", wish, StagePictures, speech_engine=speech_engine)
    return folder, made, speech_engine, wish


def test_each_call_and_relax_is_heard_when_the_table_says(files):
    """Found in the sound by cross-correlation with the voice alone."""
    _, made, speech_engine, _ = files
    sound, rate = soundfile.read(made.out / "session.wav", always_2d=True)
    with (made.out / "calls.csv").open(newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == 8
    for row in rows:
        for text, at in ((row["said"], row["called at"]), (RELAX, row["relax at"])):
            spoken = speech_engine.samples(text, "name", rate)
            frame, alike = heard_at(sound[:, 0], spoken, round(float(at) * rate), rate // 2)
            assert alike > 0.9, row
            assert abs(frame / rate - float(at)) < 0.001
        assert 2.0 <= float(row["hold"]) <= 4.0


def test_a_picture_a_call_and_a_round_in_the_log_that_counts_for_nothing(files):
    folder, made, _, wish = files
    assert len(made.pictures) == 8
    assert all(not QImage(str(path)).isNull() for path in made.pictures)
    with Logbook(folder / "practice.sqlite") as book:
        (done,) = book.rounds()
        assert done.dry_run
        assert (done.seed, len(done.calls)) == (5, 8)
        assert calendar(book, done.started.date(), done.started.date()) == ()
    assert str(wish.seed) in made.words
    assert "common practice" in made.words


def test_whatever_a_rule_set_calls_its_pictures_lie_in_the_folder(tmp_path):
    folder = Path(shutil.copytree(DEMO, tmp_path / "routine"))
    text = (folder / "routine.yaml").read_text(encoding="utf-8")
    (folder / "routine.yaml").write_text(text.replace("rules: open-90", "rules: club"))
    (folder / "rules").mkdir(exist_ok=True)
    (folder / "rules" / "club.yaml").write_text(
        "format: 1\nname: Club\nmandatory: [front / back of the club]\n"
    )
    wish, saved = RoundWish("mandatories", 2.0, 2.0), []

    class Painter:
        def save(self, view, path):
            saved.append(path)

    dry_round(folder, tmp_path / "out", wish, lambda sheet: Painter())
    assert saved[0] == tmp_path / "out" / "call 01 front back of the club.png"


def test_with_background_music_the_song_goes_round_and_steps_back(files):
    """The song is heard between the calls, again from its start, and softer under speech."""
    time = np.arange(8 * 8000) / 8000
    tone = (0.3 * np.sin(2 * np.pi * 440 * time)).astype(np.float32)
    track = Track(np.stack([tone, tone], 1), 8000, "tone")
    from rehearse.playback.offline_render import render

    laid = timeline("turns", measure_with(None), hold=6.0, longest=6.0)
    sound = render(track, loop_passes_of(laid, track, None)).samples[:, 0]
    middle = [sound[round((c.hit + 2) * 8000) :][:4000] for c in laid.calls]
    assert all(0.15 < np.sqrt(np.mean(part**2)) < 0.25 for part in middle)

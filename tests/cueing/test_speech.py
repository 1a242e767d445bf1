"""The rules of speech, as pure functions over invented routines and a voice of known lengths.

Sources: the counts of the eight before a hit, "5, 6, 7, 8" before a 1 (common practice, no
source); "and" between beats over
1.5 s apart (Repp 2005, Psychonomic Bulletin & Review 12, 969–992).
"""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rehearse.cueing.count_in import lead_in
from rehearse.cueing.cue_options import CueVolumes, VolumeStep
from rehearse.cueing.cues import CueSheet
from rehearse.cueing.pass_sounds import sounds
from rehearse.cueing.speech import Speech, SpeechChoice, SpokenLine, plan_speech
from rehearse.cueing.texts import short_form
from rehearse.cueing.voice import Sounding, SpeechEngine
from rehearse.music.beatmap import BeatMap, Stretch
from rehearse.music.position import Length, Seconds, parse_position
from rehearse.routine.model import Facing, Level, Placed, Routine
from rehearse.routine.poses import load_catalogue

NAMES = [pose.name for pose in load_catalogue().poses]


def voice(text, kind, pace=1.0):
    """A voice in which a letter of a name takes 60 ms and a count 0.28 s."""
    return Sounding(0.06, 0.22) if kind == "count" else Sounding(0.05, 0.06 * len(text) / pace)


def beat_map(interval=0.5, beats=128, free=()):
    times = tuple(round(2.0 + interval * k, 6) for k in range(beats))
    places = tuple(k % 4 + 1 for k in range(beats))
    return BeatMap("h", times[-1] + 20.0, times, places, free=(Stretch(0, 2.0), *free))


def sheet_of(*poses, beatmap=None):
    placed = [
        Placed(
            f"{k:08x}",
            name,
            parse_position(hit),
            Length(4),
            Length(transition),
            **(more[0] if more else {}),
        )
        for k, (name, hit, transition, *more) in enumerate(poses)
    ]
    routine = Routine("t", "t.wav", poses=tuple(placed))
    return CueSheet.compile(routine, beatmap or beat_map(), load_catalogue())


def said(speech, kind="name"):
    return [line for line in speech.lines if line.kind == kind]


def test_the_name_ends_before_the_transition_and_the_counts_lead_to_the_hit():
    sheet = sheet_of(("front double biceps", "2:1", 2), ("vacuum", "4:1", 2))
    speech = plan_speech(sheet, sheet.cues[0].hit, sheet.cues[1].end, voice)
    names = said(speech)
    assert [line.text for line in names] == ["front double biceps", "vacuum"]
    second = sheet.cues[1].start - sheet.cues[0].hit
    assert names[1].end <= second - 0.3 + 1e-9
    hit = sheet.cues[1].hit - sheet.cues[0].hit
    counts = [(line.text, line.onset) for line in said(speech, "count") if line.onset > 0]
    assert counts == [(str(8 - k), pytest.approx(hit - 0.5 * (k + 1))) for k in (3, 2, 1, 0)]


def test_a_pass_that_begins_on_its_hit_names_the_pose_before_the_count_in():
    sheet = sheet_of(("vacuum", "2:1", 2))
    speech = plan_speech(sheet, sheet.cues[0].hit, sheet.cues[0].end, voice)
    (name,) = said(speech)
    counted = said(speech, "count")
    assert [line.text for line in counted] == ["5", "6", "7", "8"]
    # Four counts of half a second, the last one beat before the music.
    assert [line.onset for line in counted] == pytest.approx([-2.0, -1.5, -1.0, -0.5])
    assert name.end < counted[0].at
    assert speech.lead > -name.at > 2.0


def test_too_short_a_gap_takes_the_short_form_then_reads_it_faster_then_names_it_on_the_hit():
    pair = ("kneeling double biceps", "3:1", 2, {"say": "kneel"})
    sheet = sheet_of(("vacuum", "2:4", 2), pair)
    begin = sheet.cues[0].hit - 1.0
    assert said(plan_speech(sheet, begin, 40.0, voice))[-1].text == "kneel"
    # From 0.25 s after 2:5& to 0.3 s before 3:1 less two counts are 0.20 s; "bow" takes 0.23 s.
    faster = sheet_of(("vacuum", "2:5&", 2), (*pair[:3], {"say": "bow"}))
    name = said(plan_speech(faster, begin, 40.0, voice))[-1]
    assert (name.text, name.pace) == ("bow", 1.25)
    assert name.end <= faster.cues[1].start - begin - 0.3 + 1e-9
    close = sheet_of(("vacuum", "2:5", 2), ("kneeling double biceps", "2:8", 2, {"say": "kneel"}))
    begin = close.cues[0].hit - 1.0
    speech = plan_speech(close, begin, 40.0, voice)
    name = said(speech)[-1]
    assert (name.text, name.pace, name.cue) == ("kneel", 1.0, 1)
    assert name.onset == pytest.approx(close.cues[1].hit - begin)
    assert said(speech, "count")
    assert speech.unsaid == ()


def test_a_name_without_any_room_is_told_and_never_left_out_silently():
    poses = [("vacuum", "2:1", 0), ("kneeling double biceps", "2:1&", 0), ("crucifix", "2:2", 0)]
    sheet = sheet_of(*poses)
    speech = plan_speech(sheet, sheet.cues[0].hit - 1.0, 40.0, voice)
    assert [cue.name for cue in speech.unsaid] == ["kneeling double biceps"]
    for silent in (SpeechChoice("counts"), SpeechChoice(levels=CueVolumes(names=VolumeStep.OFF))):
        assert plan_speech(sheet, 4.0, 40.0, voice, choice=silent).unsaid == ()
    on_hits = plan_speech(sheet, 4.0, 40.0, voice, choice=SpeechChoice("names"))
    assert [cue.name for cue in on_hits.unsaid] == ["vacuum", "kneeling double biceps"]


def test_a_name_the_voice_cannot_read_is_told_by_the_voice_and_not_for_want_of_room():
    sheet = sheet_of(("vacuum", "2:1", 2), ("crucifix", "4:1", 2))
    speech = plan_speech(sheet, 4.0, 40.0, lambda text, kind, pace=1.0: None)
    assert speech.unsaid == ()


def test_faster_reading_is_shorter_and_an_own_recording_stays_as_it_is(steady_voice):
    speech_engine = SpeechEngine()
    name = "three-quarter back left"
    lengths = [speech_engine.measure(name, "name", pace).length for pace in (1.0, 1.25, 1.5)]
    assert lengths[0] > 1.1 * lengths[1] > 1.1 * 1.05 * lengths[2]
    samples = speech_engine.samples(name, "name", 22050, 1.5)
    assert len(samples) == pytest.approx(lengths[2] * 22050, abs=20)


def test_speech_keeps_its_speed_and_counts_follow_the_tempo():
    sheet = sheet_of(("vacuum", "2:1", 2), ("crucifix", "4:1", 2))
    begin = sheet.cues[0].hit
    fast = plan_speech(sheet, begin, 40.0, voice)
    slow = plan_speech(sheet, begin, 40.0, voice, tempo=0.5)
    assert [n.end - n.at for n in said(slow)] == pytest.approx([n.end - n.at for n in said(fast)])
    fast_counts = [c.onset for c in said(fast, "count")]
    assert [c.onset for c in said(slow, "count")] == pytest.approx([2 * t for t in fast_counts])


def test_and_is_said_where_beats_are_more_than_one_and_a_half_seconds_apart():
    sheet = sheet_of(("vacuum", "2:1", 2), ("crucifix", "4:1", 1))
    slow = plan_speech(sheet, sheet.cues[0].hit, 40.0, voice, tempo=0.3)
    assert [c.text for c in said(slow, "count")][-8:] == [
        "5",
        "and",
        "6",
        "and",
        "7",
        "and",
        "8",
        "and",
    ]
    gaps = np.diff([c.onset for c in said(slow, "count")][-8:])
    assert gaps == pytest.approx([0.5 / 0.3 / 2] * 7)
    plain = plan_speech(sheet, sheet.cues[0].hit, 40.0, voice, tempo=0.4)
    assert "and" not in [c.text for c in said(plain, "count")]


def test_a_name_that_covers_a_count_takes_its_and_along():
    """Counts 2 s apart; 31 letters take 1.86 s from the start and cover the 7, not its "and"."""
    sheet = sheet_of(
        ("front double biceps", "2:1", 1, {"facing": Facing.BACK, "level": Level.LUNGE}),
        beatmap=beat_map(2.0),
    )
    choice = SpeechChoice(turns=True)
    speech = plan_speech(sheet, sheet.cues[0].hit - 6.0, 60.0, voice, choice=choice)
    heard = [ln.text for ln in speech.lines if ln.kind != "click" and ln.at >= 0.0]
    assert heard == ["front double biceps, back, lunge", "8", "and"]


def test_a_count_right_after_a_hit_is_left_out_rather_than_said_into_it():
    """The hit is 0.08 s before the beat of the 1; a hit is left alone for 0.1 s."""
    sheet = sheet_of(("vacuum", "5.92 s", 1), ("crucifix", "2:4", 1))
    speech = plan_speech(sheet, 2.0, 40.0, voice, choice=SpeechChoice("counts"))
    after = [(ln.kind, ln.text) for ln in speech.lines if ln.at > 3.9]
    assert after == [("count", "2"), ("click", "2"), ("count", "3"), ("click", "3")]


def test_free_time_is_counted_down_in_seconds():
    beatmap = beat_map(beats=16, free=())
    counted = lead_in(beatmap, 20.0, 12.0, 1.0)
    assert [(c.label, c.time) for c in counted] == [("3", 17.0), ("2", 18.0), ("1", 19.0)]


@pytest.mark.parametrize(
    ("hit", "counts"),
    [("3:5", "1234"), ("3:1", "5678"), ("3:3", "7812"), ("3:8", "4567"), ("3:5&", "2345")],
)
def test_the_counts_said_are_the_musics_own(hit, counts):
    sheet = sheet_of(("vacuum", "2:1", 2), ("crucifix", hit, 2))
    speech = plan_speech(sheet, sheet.cues[0].hit, 40.0, voice)
    led = said(speech, "count")[-4:]
    assert [c.text for c in led] == list(counts)
    for line in led:  # what the display marks in its strip on that count
        assert str(sheet.at(sheet.cues[0].hit + line.onset + 1e-6).count.count) == line.text
    old = plan_speech(sheet, sheet.cues[0].hit, 40.0, voice, choice=SpeechChoice(counting="in"))
    assert [c.text for c in said(old, "count")][-4:] == ["5", "6", "7", "8"]


@pytest.mark.parametrize(("start", "counts"), [("3:5", "1234"), ("3:1", "5678"), ("2:4", "8123")])
def test_a_pass_is_counted_in_with_the_counts_that_lead_to_its_start(start, counts):
    sheet = sheet_of(("vacuum", "4:1", 2))
    begin = sheet.beatmap.time_of(parse_position(start))
    speech = plan_speech(sheet, begin, 40.0, voice)
    opening = [line for line in said(speech, "count") if line.onset < 0]
    assert [line.text for line in opening] == list(counts)
    shown = [sheet.before(begin, -line.onset / 0.5, 0.5).count_in for line in opening]
    assert shown == list(counts)


def test_a_pass_says_each_line_at_its_moment():
    """Two poses at 120 BPM from two counts before the first; all times by the rules' own seconds.

    "vacuum" has room only from the start of the music and covers the 6; "crucifix" ends 0.12 s
    before the count that follows it; each count starts 0.06 s before its beat, as this voice does.
    """
    sheet = sheet_of(("vacuum", "2:1", 2), ("crucifix", "4:1", 2))
    speech = plan_speech(sheet, 4.0, 40.0, voice)
    spoken = [(ln.text, round(ln.at, 6), round(ln.end, 6)) for ln in speech.lines
              if ln.kind != "click"]  # fmt: skip
    assert spoken == [
        ("1", -2.06, -1.78), ("2", -1.56, -1.28), ("3", -1.06, -0.78), ("4", -0.56, -0.28),
        ("vacuum", 0.0, 0.41), ("7", 0.94, 1.22), ("8", 1.44, 1.72),
        ("crucifix", 7.29, 7.82),
        ("5", 7.94, 8.22), ("6", 8.44, 8.72), ("7", 8.94, 9.22), ("8", 9.44, 9.72),
    ]  # fmt: skip
    clicks = [(ln.at, ln.strong) for ln in said(speech, "click")]
    beats = [-2.0, -1.5, -1.0, -0.5, 0.5, 1.0, 1.5, 8.0, 8.5, 9.0, 9.5]
    assert clicks == [(pytest.approx(at), at in (-0.5, 1.5, 9.5)) for at in beats]
    assert speech.lead == pytest.approx(2.16)
    assert [ln.cue for ln in said(speech)] == [0, 1]


def test_without_a_count_in_the_first_name_is_over_a_breath_before_the_music():
    """0.3 s, as before a transition; a tenth of a second is left before it begins.

    A second before the hit, half of it for the transition, leaves no room behind the start.
    """
    sheet = sheet_of(("vacuum", "2:1", 1))
    choice = SpeechChoice(counts=0)
    speech = plan_speech(sheet, sheet.cues[0].hit - 1.0, 40.0, voice, choice=choice)
    (name,) = said(speech)
    assert (name.text, name.pace) == ("vacuum", 1.0)
    assert name.end == pytest.approx(-0.3)
    assert speech.lead == pytest.approx(0.1 - name.at)


def test_counts_too_close_to_be_understood_are_clicked_and_every_second_is_said():
    """At 300 BPM a count lasts 0.2 s, less than the 0.28 s that this voice takes for one."""
    sheet = sheet_of(("vacuum", "2:1", 2), ("crucifix", "6:1", 2), beatmap=beat_map(0.2))
    speech = plan_speech(sheet, sheet.cues[0].hit, 20.0, voice, choice=SpeechChoice("counts"))
    led = [ln for ln in speech.lines if ln.at > 0]
    assert [ln.text for ln in led if ln.kind == "count"] == ["6", "8"]
    assert [ln.text for ln in led if ln.kind == "click"] == ["5", "6", "7", "8"]


def test_a_hit_on_the_end_of_a_pass_is_spoken_of_only_where_the_music_ends():
    sheet = sheet_of(("vacuum", "2:1", 2), ("crucifix", "4:1", 2))
    hit = sheet.cues[1].hit
    assert [n.text for n in said(plan_speech(sheet, 4.0, hit, voice))] == ["vacuum"]
    ends = replace(sheet, end=hit)
    assert [n.text for n in said(plan_speech(ends, 4.0, hit, voice))] == ["vacuum", "crucifix"]


def test_a_count_that_is_cut_short_ends_softly_and_keeps_its_loudness():
    class Humming:
        """Says everything as half a second at full level."""

        def samples(self, text, kind, sample_rate, pace=1.0):
            return np.ones(sample_rate // 2, np.float32)

    line = SpokenLine(1.0, 1.1, 1.2, "count", "5")
    levels = CueVolumes(counts=VolumeStep.SOFT)
    (sound,) = sounds(Speech(0.0, (line,)), Humming(), 1000, levels)
    assert (sound.at, sound.kind, len(sound.samples)) == (1.0, "speech", 200)
    assert sound.samples[:185] == pytest.approx(0.355)  # 9 dB below full level
    assert sound.samples[-1] == 0.0
    assert np.all(np.diff(sound.samples[185:]) < 0.0)


def test_the_last_count_before_a_hit_is_the_strong_click():
    sheet = sheet_of(("vacuum", "2:1", 2), ("crucifix", "3:5", 2))
    speech = plan_speech(sheet, sheet.cues[0].hit, 40.0, voice)
    strong = [line.text for line in said(speech, "click") if line.strong]
    assert strong == ["8", "4"]  # of the count-in to 2:1, of the lead to 3:5


def test_a_hit_on_the_half_count_is_led_by_the_beats_before_it():
    counted = lead_in(beat_map(), 2.0 + 8 * 0.5 + 0.25, 0.0, 1.0)
    assert [c.label for c in counted] == ["6", "7", "8", "1"]
    assert counted[-1].time == pytest.approx(6.0)


def test_turns_are_said_when_asked_and_only_when_they_change():
    back = {"facing": Facing.BACK, "level": Level.KNEELING}
    sheet = sheet_of(("vacuum", "2:1", 1), ("crucifix", "5:1", 1, back), ("vacuum", "8:1", 1, back))
    choice = SpeechChoice(turns=True)
    texts = [n.text for n in said(plan_speech(sheet, 1.0, 60.0, voice, choice=choice))]
    assert texts[1:] == ["crucifix, back, kneel", "vacuum"]


@pytest.mark.parametrize(
    ("cueing", "kinds"),
    [("all", {"name", "count", "click"}), ("counts", {"count", "click"}), ("memory", set())],
)
def test_the_cueing_choice_decides_what_is_heard(cueing, kinds):
    sheet = sheet_of(("vacuum", "2:1", 2), ("crucifix", "4:1", 2))
    speech = plan_speech(sheet, 4.0, 40.0, voice, choice=SpeechChoice(cueing))
    assert {line.kind for line in speech.lines} == kinds
    assert speech.lead >= 2.0


def test_names_on_the_hit_are_said_on_the_hit():
    sheet = sheet_of(("vacuum", "2:1", 2), ("crucifix", "4:1", 2))
    speech = plan_speech(sheet, 4.0, 40.0, voice, choice=SpeechChoice("names"))
    assert [(n.text, n.onset) for n in said(speech)] == [
        (cue.name, pytest.approx(cue.hit - 4.0)) for cue in sheet.cues
    ]


def test_names_on_the_hit_are_said_without_their_turns():
    back = {"facing": Facing.BACK}
    sheet = sheet_of(("vacuum", "2:1", 2), ("crucifix", "4:1", 2, back))
    choice = SpeechChoice("names", turns=True)
    texts = [n.text for n in said(plan_speech(sheet, 4.0, 40.0, voice, choice=choice))]
    assert texts == ["vacuum", "crucifix"]


@pytest.mark.parametrize("what", ["names", "counts", "clicks"])
def test_each_kind_can_be_turned_off_or_down_by_itself(what):
    sheet = sheet_of(("vacuum", "2:1", 2), ("crucifix", "4:1", 2))
    kind = {"names": "name", "counts": "count", "clicks": "click"}[what]
    off = SpeechChoice(levels=CueVolumes(**{what: VolumeStep.OFF}))
    speech = plan_speech(sheet, 4.0, 40.0, voice, choice=off)
    assert kind not in {line.kind for line in speech.lines}
    assert len({line.kind for line in speech.lines}) == 2
    heard = {}
    speech_engine = SpeechEngine()
    for loudness in (VolumeStep.SOFT, VolumeStep.LOUD):
        levels = CueVolumes(**{what: loudness})
        plan = plan_speech(
            sheet, 4.0, 40.0, speech_engine.measure, choice=SpeechChoice(levels=levels)
        )
        spoken = sounds(plan, speech_engine, 22050, levels)
        kinds = [line.kind for line in plan.lines]
        heard[loudness] = [
            np.abs(s.samples).max() for s, k in zip(spoken, kinds, strict=True) if k == kind
        ]
    assert max(heard[VolumeStep.SOFT]) < 0.5 * max(heard[VolumeStep.LOUD])


def test_without_a_voice_the_clicks_stay_even_when_they_were_off():
    sheet = sheet_of(("vacuum", "2:1", 2), ("crucifix", "4:1", 2))
    choice = SpeechChoice(levels=CueVolumes(clicks=VolumeStep.OFF))
    speech = plan_speech(sheet, 4.0, 40.0, lambda text, kind, pace=1.0: None, choice=choice)
    assert {line.kind for line in speech.lines} == {"click"}
    # The hit of 4:1 is 10 s after the pass's start.
    assert [x.onset for x in speech.lines][-4:] == pytest.approx([8.0, 8.5, 9.0, 9.5])
    heard = sounds(speech, None, 44100, choice.levels)
    assert len(heard) == len(speech.lines)
    assert all(len(s.samples) for s in heard)


hits = st.lists(st.integers(1, 14), min_size=1, max_size=18)


@settings(max_examples=150, deadline=None)
@given(
    gaps=hits,
    transitions=st.lists(st.sampled_from([0.5, 1, 2, 3, 5]), min_size=18, max_size=18),
    names=st.lists(st.sampled_from(NAMES), min_size=18, max_size=18),
    interval=st.sampled_from([0.3, 0.4, 0.5, 0.75, 1.2]),
    tempo=st.sampled_from([0.4, 0.6, 0.85, 1.0, 1.05]),
    first=st.integers(0, 9),
    turns=st.booleans(),
    count_in=st.integers(0, 8),
)
def test_never_a_pile_up_never_over_a_hit_and_every_name_that_fits_is_said(
    gaps, transitions, names, interval, tempo, first, turns, count_in
):
    beatmap = beat_map(interval, beats=300)
    places = [first + sum(gaps[: k + 1]) for k in range(len(gaps))]
    placed = tuple(
        Placed(f"{k:08x}", names[k], beatmap.counts[p], Length(2), Length(transitions[k]))
        for k, p in enumerate(places)
    )
    sheet = CueSheet.compile(Routine("t", "t.wav", poses=placed), beatmap, load_catalogue())
    start = beatmap.beats[first]
    end = sheet.cues[-1].end + 1.0
    choice = SpeechChoice(turns=turns, counts=count_in)
    speech = plan_speech(sheet, start, end, voice, tempo=tempo, choice=choice)

    spoken = sorted((x for x in speech.lines if x.kind != "click"), key=lambda x: x.at)
    for one, two in itertools.pairwise(spoken):
        assert one.end <= two.at + 1e-9, (one, two)
    assert all(line.at >= -speech.lead - 1e-9 for line in speech.lines)
    out = [(c.hit - start) / tempo for c in sheet.cues]
    for line in spoken:
        own = out[line.cue] if line.kind == "name" else None
        others = [hit for hit in out if hit != own or abs(line.onset - hit) > 1e-9]
        assert not any(line.at < hit - 1e-9 and line.end > hit + 1e-9 for hit in others), line
    # Each pose is named once, or told as unsaid.
    told = [x.cue for x in spoken if x.kind == "name"] + [cue.index for cue in speech.unsaid]
    assert sorted(told) == list(range(len(sheet.cues)))
    beats = (beatmap.times - start) / tempo
    halves = (beats[1:] + beats[:-1]) / 2
    for line in spoken:
        if line.kind == "count" and line.onset > 0:
            grid = halves if line.text == "and" else beats
            assert np.abs(grid - line.onset).min() < 1e-6
    named = {x.cue: x for x in spoken if x.kind == "name"}
    for before, cue in itertools.pairwise(sheet.cues):
        begins, after = (cue.start - start) / tempo, out[before.index]
        free = after + 0.25
        if before.index in named and named[before.index].end > after:
            free = max(free, named[before.index].end + 0.12)
        room = begins - 0.3 - free
        early = cue.index in named and named[cue.index].at < begins
        line = named.get(cue.index)
        fits = voice(cue.name, "name").length <= room + 1e-9
        assert bool(early and line.text.startswith(cue.name) and line.pace == 1.0) == fits
        assert not early or line.end <= begins - 0.3 + 1e-9
        assert early or voice(short_form(cue), "name", 1.5).length > room - 1e-9


def test_a_position_the_map_cannot_place_is_left_out():
    sheet = sheet_of(("vacuum", "90:1", 2))
    speech = plan_speech(sheet, 4.0, 10.0, voice)
    assert not said(speech)
    assert sheet_of(("vacuum", "5.00 s", 2)).cues[0].placed.hit == Seconds(5.0)

"""The cue video, opened by FFmpeg and looked at frame by frame: picture against sound, index,
chapters, sizes, stopping.

The rim's top is lit on a hit and nowhere else (design of the edge light), so it tells a hit's
frame without knowing how the frame was made. 30 frames a second, H.264 with AAC: common practice
of phones and televisions, no source.
"""

from __future__ import annotations

import json
import struct

import av
import numpy as np
import pytest

from rehearse.cueing.voice import SpeechEngine
from rehearse.files.user_error import UserError
from rehearse.handout import cue_video
from rehearse.handout.cue_plan import CuePlan, find_transition, plan_stretches, words_of
from rehearse.handout.cue_track import cue_sound, finished
from rehearse.handout.cue_video import FrameTimeline, write_cue_video
from rehearse.handout.formats import format_of
from rehearse.handout.make import make
from rehearse.handout.mp4_writer import RATE
from rehearse.ui.stage.frames import StageFrames

#: Small enough to be made in a second, with the shapes of the real ones.
SMALL = {"landscape": (480, 270), "upright": (270, 480)}
#: Luminance of the rim's top, 0..255, between a lit count and a hit.
LIT = 180


@pytest.fixture
def small(monkeypatch):
    monkeypatch.setattr(cue_video, "SCREENS", SMALL)


@pytest.fixture
def kept(monkeypatch):
    """The sounds that were made, in order."""
    sounds = []

    def keep(*args, **kwargs):
        sounds.append(finished(*args, **kwargs))
        return sounds[-1]

    monkeypatch.setattr(cue_video, "finished", keep)
    return sounds


def frames_of(path):
    """Second and picture (height, width, 3) of every frame."""
    with av.open(str(path)) as opened:
        for frame in opened.decode(video=0):
            yield float(frame.pts * frame.time_base), frame.to_ndarray(format="rgb24")


def flashes(path):
    """Seconds of the first frame of each hit: its rim's top becomes bright."""
    found, before = [], 255.0
    for time, picture in frames_of(path):
        middle = picture.shape[1] // 2
        bright = float(picture[2:5, middle - 20 : middle + 20].mean())
        if bright > LIT >= before:
            found.append(time)
        before = bright
    return found


def sound_of(path):
    """Mono samples and rate as a player hears them, cut by the file's own edit list."""
    with av.open(str(path)) as opened:
        stream = opened.streams.audio[0]
        blocks = [f for f in opened.decode(stream) if f.pts >= 0]
        assert blocks[0].pts == 0
        return np.concatenate([b.to_ndarray() for b in blocks], axis=1).mean(axis=0), stream.rate


def hits_of(source, made, plan):
    """Seconds of the file at which each hit of each pass is heard."""
    for stretch, (_, music) in zip(plan_stretches(source, plan), made.starts, strict=True):
        for cue in source.sheet.cues:
            if stretch.start <= cue.hit < stretch.end:
                yield music + (cue.hit - stretch.start) / stretch.tempo


@pytest.mark.parametrize(
    ("screen", "plan", "hits"),
    [
        ("landscape", CuePlan(sections=("Opening",)), 2),
        ("upright", CuePlan(transitions=(3,), tempos=(0.5,)), 1),
    ],
)
def test_every_hit_lights_up_on_the_frame_of_its_beat(
    qapp, source, track, tmp_path, small, kept, screen, plan, hits
):
    path = tmp_path / "a.mp4"
    write_cue_video(source, track, path, plan, None, StageFrames, screen=screen)
    expected = list(hits_of(source, kept[0], plan))
    found = flashes(path)
    assert len(found) == len(expected) == hits
    assert np.abs(np.subtract(found, expected)).max() <= 1 / RATE
    if plan.tempos != (1.0,):
        return
    # The drum of each hit is heard where the picture says: correlated with the song itself.
    heard, rate = sound_of(path)
    assert rate == track.sample_rate
    song = track.samples.mean(axis=1)
    for time, cue in zip(expected[:2], source.sheet.cues[:2], strict=True):
        reach, wide = int(0.05 * rate), int(0.25 * rate)
        first, own = round(time * rate) - wide, round(cue.hit * rate) - wide
        window = heard[first - reach : first + 2 * wide + reach]
        lag = int(np.argmax(np.correlate(window, song[own : own + 2 * wide], "valid"))) - reach
        assert abs(lag) / rate <= 0.005


def test_it_opens_everywhere(qapp, source, track, tmp_path, tool):
    plan = CuePlan(transitions=(2,))
    path = tmp_path / "a.mp4"
    made = write_cue_video(source, track, path, plan, None, StageFrames)
    told = json.loads(
        tool(
            *("ffprobe", "-v", "error", "-of", "json", "-show_streams", "-show_chapters"),
            *("-show_format", "-count_packets", str(path)),
        )
    )
    video, sound = told["streams"][:2]
    assert (video["codec_name"], video["pix_fmt"], video["profile"]) == ("h264", "yuv420p", "High")
    assert (video["width"], video["height"], video["level"]) == (1920, 1080, 40)
    assert video["avg_frame_rate"] == "30/1"
    assert int(video["nb_read_packets"]) == round(made.length * RATE + 0.5)
    assert (sound["codec_name"], sound["profile"]) == ("aac", "LC")
    assert abs(float(sound["start_time"])) < 0.001
    assert float(video["duration"]) == pytest.approx(float(sound["duration"]), abs=0.04)
    assert [c["tags"]["title"] for c in told["chapters"]] == [c.title for c in made.chapters]
    # ISO/IEC 14496-12: a player that reads from the front finds the index before the pictures.
    data = path.read_bytes()
    kinds, at = [], 0
    while at < len(data):
        size, kind = struct.unpack(">I4s", data[at : at + 8])
        kinds.append(kind)
        at += size
    assert kinds.index(b"moov") < kinds.index(b"mdat")


def test_the_sound_is_the_cue_tracks_own(qapp, source, track, tmp_path, small, kept):
    plan = CuePlan(transitions=(2,))
    write_cue_video(source, track, tmp_path / "a.mp4", plan, SpeechEngine(), StageFrames)
    (tmp_path / "a.m4a").write_bytes(kept[0].data)

    def packets(path):
        with av.open(str(path)) as opened:
            return [bytes(p) for p in opened.demux(opened.streams.audio[0]) if p.size]

    assert packets(tmp_path / "a.mp4") == packets(tmp_path / "a.m4a")


def test_count_in_music_and_rest_follow_each_other(source, track):
    plan = CuePlan(transitions=(2,), tempos=(0.725, 1.0), rest=3.0)
    sound = cue_sound(source, track, plan, None, form=format_of("m4a"))
    timeline = FrameTimeline(source.sheet, sound)
    seen = [timeline.view(t) for t in np.arange(0.0, sound.length, 0.1)]
    order = [v.state for k, v in enumerate(seen) if k == 0 or v.state != seen[k - 1].state]
    assert order == ["count-in", "music", "rest", "count-in", "music"]
    (_, music), (begin, _) = sound.starts
    assert timeline.view(music + 2.0).heard == pytest.approx(
        plan_stretches(source, plan)[0].start + 1.45
    )
    assert timeline.view(begin - 1.0).rest == pytest.approx(1.0)
    assert [v.plan.number for v in (timeline.view(music), timeline.view(begin - 1.0))] == [1, 2]


def test_a_transition_begins_in_the_pose_before_and_ends_with_the_hold(source):
    before, cue = source.sheet.cues[:2]
    way = find_transition(source, 2)
    assert before.hit <= way.start <= cue.start - 0.5
    assert way.end == cue.end
    assert (
        words_of(CuePlan(transitions=(2,), tempos=(0.7, 0.7))) == "way into pose 2, 2 passes, 70 %"
    )
    with pytest.raises(UserError, match="no pose 7"):
        find_transition(source, 7)


def test_stopping_leaves_nothing_behind(qapp, source, track, tmp_path, small):
    class Enough(Exception):
        pass

    def report(fraction, words):
        if fraction > 0.5:
            raise Enough

    plan = CuePlan(transitions=(2,))
    with pytest.raises(Enough):
        write_cue_video(
            *(source, track, tmp_path / "a.mp4", plan, None, StageFrames), report=report
        )
    assert not list(tmp_path.iterdir())


def test_a_sound_that_cannot_be_made_leaves_nothing_behind(
    qapp, source, track, tmp_path, small, monkeypatch
):
    def fail(mix, report):
        raise UserError("the cue track stays too loud")

    monkeypatch.setattr(cue_video, "finished", fail)
    with pytest.raises(UserError, match="too loud"):
        write_cue_video(
            *(source, track, tmp_path / "a.mp4", CuePlan(transitions=(2,)), None, StageFrames)
        )
    assert not list(tmp_path.iterdir())


def test_another_ending_is_refused(folder, tmp_path):
    with pytest.raises(UserError, match="cannot be written as 'avi'"):
        make(folder, "cue-video", tmp_path / "a.avi", painter=StageFrames)

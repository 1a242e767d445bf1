"""Cuts of songs whose every beat is known: their sound, their map, their joins."""

from dataclasses import replace

import numpy as np
import pytest

from rehearse.files.user_error import UserError
from rehearse.music import correct
from rehearse.music.analysis.likeness import hear
from rehearse.music.beatmap import Accent, Stretch
from rehearse.music.cut import EARLY, Cut, CutPart, map_of_cut, told_back, whole
from rehearse.music.cutsound import cross_fade, fade_span, splice_sound, write_sound
from rehearse.music.decode import load_track
from rehearse.music.joins import Joiner, click_beyond, join_all
from rehearse.music.mapfile import load_map, save_map
from rehearse.music.position import Count
from rehearse.music.proposals import SPARE, from_heard, propose
from tests.music.structured import make_track


def quiet(fraction, text):
    """A report nobody hears."""


@pytest.fixture(scope="module")
def song():
    return make_track()


@pytest.fixture(scope="module")
def heard(song):
    return hear(song[0], quiet)


def recipe(beatmap, *pairs, **of_last):
    """A cut whose parts begin and end on these counts."""
    parts = [CutPart(*(beatmap.time_of(Count(*place)) for place in pair)) for pair in pairs]
    parts[-1] = replace(parts[-1], **of_last)
    return Cut("song.wav", beatmap.track_hash, "cut/map.yaml", tuple(parts))


def test_a_part_is_the_songs_own_sound(song):
    track, beatmap = song
    cut = recipe(beatmap, ((3, 1), (5, 1)), ((13, 1), (15, 1)))
    sound = splice_sound(track.samples, track.sample_rate, cut)
    assert len(sound) == round(cut.length * track.sample_rate)
    first, last = fade_span(cut, 1, track.sample_rate)
    start = round(cut.parts[0].start * track.sample_rate)
    assert np.array_equal(sound[:first], track.samples[start : start + first])
    behind = round(cut.parts[1].start * track.sample_rate) - round(
        cut.begins[1] * track.sample_rate
    )
    assert np.array_equal(sound[last:], track.samples[last + behind : len(sound) + behind])


def test_any_stretch_is_as_in_the_whole(song):
    track, beatmap = song
    cut = recipe(beatmap, ((3, 1), (5, 1)), ((13, 1), (15, 1)), level=-2.0, fade=0.3)
    sound = splice_sound(track.samples, track.sample_rate, cut)
    join = cut.joins[0]
    piece = splice_sound(track.samples, track.sample_rate, cut, first=join - 0.1, last=join + 1.0)
    at = round((join - 0.1) * track.sample_rate)
    assert np.array_equal(piece, sound[at : at + len(piece)])


def test_a_fade_keeps_the_power_of_what_differs_and_the_height_of_what_is_alike():
    rng = np.random.default_rng(1)
    one, other = (rng.normal(0, 0.1, (8000, 2)).astype(np.float32) for _ in range(2))
    power = np.mean(cross_fade(one, other) ** 2) / np.mean(one**2)
    assert abs(10 * np.log10(power)) < 0.2
    assert np.allclose(cross_fade(one, one), one, atol=1e-6)


def test_beats_go_on_over_a_join_and_eights_stay_whole(song):
    _, beatmap = song
    cut = recipe(beatmap, ((1, 1), (4, 1)), ((11, 1), (15, 1)))
    made = map_of_cut(beatmap, cut)
    assert np.allclose(np.diff(made.times), 0.5, atol=2e-6)
    assert [c for c in made.counts if c.count == 1] == [Count(n, 1) for n in range(1, 8)]
    assert made.restarts == ()
    assert made.places == tuple(k % 4 + 1 for k in range(len(made.beats)))


def test_a_join_off_its_place_keeps_the_eights(song):
    _, beatmap = song
    cut = recipe(beatmap, ((1, 1), (4, 7)), ((10, 7), (15, 1)))
    made = map_of_cut(beatmap, cut)
    assert made.counts[-1] == Count(8, 8)
    assert made.restarts == ()


def test_half_an_eight_left_out_begins_a_new_one_where_the_song_does(song):
    _, beatmap = song
    cut = recipe(beatmap, ((1, 1), (3, 5)), ((10, 1), (12, 1)))
    made = map_of_cut(beatmap, cut)
    assert made.position_at(cut.joins[0]) == Count(4, 1)
    assert made.counts[-1] == Count(5, 8)


def test_corrections_of_the_song_are_in_the_map(song):
    _, beatmap = song
    corrected = correct.nudge(beatmap, 0.012, Stretch(40.0, 48.0))
    corrected = correct.add_accent(corrected, beatmap.time_of(Count(12, 3)))
    cut = recipe(corrected, ((1, 1), (3, 1)), ((11, 1), (14, 1)))
    made = map_of_cut(corrected, cut)
    there = cut.begins[1] + beatmap.time_of(Count(12, 3)) - cut.parts[1].start
    assert any(abs(a.time - there) < 1e-5 for a in made.accents)
    index = corrected.nearest(44.0)
    beat = next(cut.heard_at(corrected.beats[index]))
    assert min(abs(b - beat) for b in made.beats) < 1e-5


def test_an_onset_just_before_the_first_beat_belongs_to_its_part(song):
    _, beatmap = song
    early = beatmap.time_of(Count(13, 1)) - 0.02
    beatmap = replace(beatmap, accents=(Accent(early, 1.0),))
    made = map_of_cut(beatmap, recipe(beatmap, ((1, 1), (3, 1)), ((13, 1), (15, 1))))
    assert [round(a.time, 3) for a in made.accents] == [round(8.0 - 0.02, 3)]
    made = map_of_cut(beatmap, recipe(beatmap, ((11, 1), (13, 1)), ((3, 1), (5, 1))))
    assert made.accents == ()


def test_free_time_is_taken_over_and_joined(song):
    _, beatmap = song
    free = correct.mark_free(beatmap, Stretch(10.0, 20.0))
    cut = Cut("s", "h", "b", (CutPart(0.4, 12.0), CutPart(18.0, 30.4)))
    made = map_of_cut(free, cut)
    assert made.free == (Stretch(9.6, 13.6),)
    assert not any(9.6 <= b < 13.6 for b in made.beats)


def test_the_map_can_be_written_and_read(song, tmp_path):
    _, beatmap = song
    cut = recipe(beatmap, ((1, 1), (4, 7)), ((10, 7), (15, 1)), slip=-0.0037)
    made = map_of_cut(beatmap, cut, hash_="a" * 32)
    save_map(tmp_path / "beats.yaml", made)
    assert load_map(tmp_path / "beats.yaml") == made


def test_what_is_corrected_in_a_cut_is_told_back_to_the_song(song):
    _, beatmap = song
    cut = recipe(beatmap, ((1, 1), (4, 1)), ((11, 1), (15, 1)))
    made = map_of_cut(beatmap, cut)
    assert told_back(beatmap, cut, made) is beatmap
    corrected = correct.nudge(made, 0.01)
    back = told_back(beatmap, cut, corrected)
    assert np.allclose(map_of_cut(back, cut).beats[1:], corrected.beats[1:], atol=2e-6)
    outside = [b for b in beatmap.beats if 20.0 < b < 35.0]
    assert set(outside) <= set(back.beats)


def test_a_second_of_the_song_is_found_in_every_part_that_has_it():
    cut = Cut("s", "h", "b", (CutPart(10.0, 20.0), CutPart(15.0, 25.0)))
    assert list(cut.heard_at(16.0)) == [6.0, 11.0]
    assert cut.song_time(11.0) == (1, 16.0)
    assert list(cut.heard_at(5.0)) == []
    assert list(cut.heard_at(15.0 - EARLY / 2)) == pytest.approx([5.0 - EARLY / 2, 9.985])
    assert list(whole("s", "h", 30.0).heard_at(29.0)) == [29.0]


# -- joins ------------------------------------------------------------------------------------
def test_a_crooked_map_does_not_make_a_crooked_beat(song, heard):
    """The map of one side is 9 ms late: the onsets are laid on each other all the same."""
    track, beatmap = song
    late = correct.nudge(beatmap, 0.009, Stretch(35.0, 70.0))
    joiner = Joiner(track, late, heard)
    beats = late.beats
    a, b = late.nearest(16.4), late.nearest(48.4)
    joined = joiner.join(CutPart(beats[0], beats[a]), CutPart(beats[b], beats[b + 24]))
    shift = joined.part.shift
    # Where the beats are in truth, in seconds of the cut: they must follow each other by 0.5 s.
    cut = Cut("", "", "", (CutPart(beats[0], joined.end), joined.part))
    before = beatmap.beats[a + shift - 1] - beats[0]
    after = cut.begins[1] + beatmap.beats[b + shift] - joined.part.start
    assert after - before == pytest.approx(0.5, abs=0.002)


def test_a_repeat_is_joined_unheard(song, heard):
    track, beatmap = song
    parts = (
        CutPart(beatmap.time_of(Count(3, 1)), beatmap.time_of(Count(6, 1))),
        CutPart(beatmap.time_of(Count(16, 1)), beatmap.time_of(Count(17, 8))),
    )
    made, found = join_all(Joiner(track, beatmap, heard), parts)
    assert abs(made[1].slip) < 0.002
    cut = Cut("", "", "", made)
    sound = splice_sound(track.samples, track.sample_rate, cut)
    first, last = fade_span(cut, 1, track.sample_rate)
    around = round(0.45 * track.sample_rate)
    piece = sound[first - around : last + around]
    assert click_beyond(piece, track.sample_rate, around, around + last - first) < -3.0
    assert found[0].told == ""


def test_a_hard_join_is_heard_as_a_click(song):
    track, _ = song
    rate = track.sample_rate
    piece = np.array(track.samples[3 * rate : 4 * rate])
    piece[rate // 2 :] += 0.5
    assert click_beyond(piece, rate, rate // 2, rate // 2) > 3.0


def test_an_attack_just_behind_a_fade_is_heard_with_it():
    """A filter without delay, such as that of `score_seam`, spreads an attack by some 4 ms."""
    rate, rng = 22050, np.random.default_rng(4)
    sound = (0.01 * rng.normal(size=(rate, 2))).astype(np.float32)
    first, last = rate // 2 - 400, rate // 2
    attack = last + round(0.0045 * rate)
    sound[attack : attack + 200] *= 100.0
    assert click_beyond(sound, rate, first, last) > 3.0
    assert click_beyond(sound, rate, first - 200, last - 200) < 1.5


def test_a_join_is_put_where_place_and_fade_together_show_least(song, heard):
    """Where it would lie by likeness alone, crackle stands wherever the sound could change over."""
    track, beatmap = song
    parts = (
        CutPart(beatmap.time_of(Count(3, 1)), beatmap.time_of(Count(6, 1))),
        CutPart(beatmap.time_of(Count(16, 1)), beatmap.time_of(Count(17, 8))),
    )
    joined = Joiner(track, beatmap, heard).join(*parts)
    end = round((joined.part.start + 0.01) * track.sample_rate)
    noisy = track.samples.copy()
    noisy[end - round(0.36 * track.sample_rate) : end : 37] = 0.9
    elsewhere = Joiner(replace(track, samples=noisy), beatmap, heard).join(*parts)
    assert elsewhere.part.shift != joined.part.shift


def test_another_tempo_and_free_time_are_told(song, heard):
    track, beatmap = song
    slower = replace(
        beatmap,
        beats=tuple(b if b < 40 else 40 + (b - 40) * 1.1 for b in beatmap.beats[:120]),
        places=beatmap.places[:120],
    )
    joiner = Joiner(track, slower, heard)
    told = joiner.join(
        CutPart(slower.beats[0], slower.beats[40]), CutPart(slower.beats[96], slower.beats[118])
    ).told
    assert told == "the tempo changes from 120 to 109"
    free = correct.mark_free(beatmap, Stretch(4.0, 9.0))
    joined = Joiner(track, free, heard).join(CutPart(0.0, 6.0), CutPart(48.4, 60.0))
    assert joined.told == "the join lies in free time"
    assert joined.end == 6.0


def test_a_step_of_loudness_that_the_music_does_not_make_is_evened_out(song, heard):
    track, beatmap = song
    joiner = Joiner(track, beatmap, heard)
    soft, loud = beatmap.time_of(Count(2, 1)), beatmap.time_of(Count(14, 1))
    assert joiner.step_beyond(soft, loud) > 3.0
    joined = joiner.join(CutPart(beatmap.beats[0], soft), CutPart(loud, loud + 8))
    assert joined.part.level < -2.0
    top = beatmap.time_of(Count(13, 1))  # here the song itself steps up
    assert abs(joiner.step_beyond(beatmap.time_of(Count(12, 8)), top)) < 1.0


# -- versions ---------------------------------------------------------------------------------
def test_versions_keep_beginning_build_and_end_within_the_limit(song, heard):
    track, beatmap = song
    found = from_heard(track, beatmap, heard, "song.wav", 40.0, quiet)
    assert len(found) == 3
    assert [p.shows for p in found] == sorted(p.shows for p in found)
    for proposal in found:
        assert 40.0 - SPARE <= proposal.length <= 40.0
        made = map_of_cut(beatmap, proposal.cut)
        assert made.builds or "rise" in proposal.reason
        assert np.allclose(np.diff(made.times), 0.5, atol=0.005)
        assert {c.count for c in made.counts} == set(range(1, 9))
    assert any(map_of_cut(beatmap, p.cut).builds for p in found)


def test_what_cannot_be_cut_is_said(song):
    track, beatmap = song
    with pytest.raises(UserError, match="within 100 s"):
        propose(track, beatmap, "song.wav", 100.0, quiet)
    with pytest.raises(UserError, match="cannot be made"):
        propose(track, beatmap, "song.wav", 3.0, quiet)


def test_the_sound_is_written_without_clipping(tmp_path):
    rng = np.random.default_rng(2)
    sound = rng.uniform(-1.3, 1.3, (44100 * 2, 2)).astype(np.float32)
    lowered = write_sound(tmp_path / "cut" / "a.flac", sound, 44100, quiet)
    track = load_track(tmp_path / "cut" / "a.flac")
    assert lowered == pytest.approx(20 * np.log10(np.abs(sound).max()), abs=0.01)
    assert track.frames == len(sound)
    assert np.abs(track.samples * 10 ** (lowered / 20) - sound).max() < 1e-5
    assert [p.name for p in (tmp_path / "cut").iterdir()] == ["a.flac"]

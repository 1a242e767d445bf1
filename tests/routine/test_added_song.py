"""Another song laid behind the one that is cut: poses stay, parts of both are joined on counts."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
import soundfile

from rehearse.files.mapping_reader import MappingReader
from rehearse.files.user_error import UserError
from rehearse.files.yamlfile import load_yaml
from rehearse.music.cut import Cut, CutPart, map_of_cut
from rehearse.music.decode import load_track
from rehearse.music.position import Count, Length
from rehearse.music.proposals import propose
from rehearse.routine import added_song, cutting
from rehearse.routine.added_song import PAUSE, add_song
from rehearse.routine.cutfile import read_cut
from rehearse.routine.cutting import Source, make_cut, source_of, with_cut, with_whole_song
from rehearse.routine.folder import open_folder, save_folder
from rehearse.routine.follow import on_music_of
from rehearse.routine.model import Placed, Routine
from tests.music.structured import make_track


def quiet(fraction, text):
    """A report nobody hears."""


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """A routine's folder, its map, and another song: softer, slower, at another sample rate."""
    folder = tmp_path_factory.mktemp("added") / "routine"
    folder.mkdir()
    (one, first), (two, second) = make_track(), make_track(bpm=100.0, rate=16000, seed=4)
    soundfile.write(folder / "song.wav", one.samples, one.sample_rate, subtype="PCM_24")
    path = folder.parent / "other song.wav"
    soundfile.write(path, 0.3 * two.samples, two.sample_rate, subtype="PCM_24")
    first, second = (
        replace(beatmap, track_hash=load_track(file).content_hash)
        for beatmap, file in ((first, folder / "song.wav"), (second, path))
    )
    poses = tuple(
        Placed(f"{eight:08x}", "crucifix", Count(eight, 1), Length(4), Length(4))
        for eight in range(2, 16, 3)
    )
    routine = Routine("Made", "song.wav", rules="open-60", poses=poses, id="ab" * 8)
    save_folder(folder, routine, first)
    patched = pytest.MonkeyPatch()
    patched.setattr(added_song, "analyse", lambda track, report: second)
    source = add_song(folder, Source("song.wav", first), path, quiet)
    patched.undo()
    return folder, routine, first, second, source, path


def test_the_first_song_keeps_its_seconds_and_the_second_follows(made):
    folder, _, first, second, source, _ = made
    both, beatmap = load_track(folder / source.song), source.beatmap
    start = source.songs[1].start
    assert start == pytest.approx(first.duration + PAUSE, abs=1e-4)
    assert beatmap.beats[: len(first.beats)] == first.beats
    assert np.allclose(np.subtract(beatmap.beats[len(first.beats) :], second.beats), start)
    assert any(s.start < start - 1.0 < s.end for s in beatmap.free)
    # Eights begin anew: the second song's first beat is a 1.
    assert beatmap.counts[len(first.beats)].count == 1
    # The level of both is the same (30 % is 10.5 dB), and so is the rate.
    at = round(start * both.sample_rate)
    level = [np.sqrt(np.mean(part**2)) for part in (both.samples[:at], both.samples[at:])]
    assert abs(20 * np.log10(level[0] / level[1])) < 1.0
    assert both.sample_rate == 22050


def test_versions_are_of_both_songs_and_none_goes_over_the_pause(made):
    folder, _, _, _, source, _ = made
    both = load_track(folder / source.song)
    offered = propose(both, source.beatmap, source.song, 60.0, quiet, source.songs)
    assert offered
    for proposal in offered:
        parts = proposal.cut.parts
        pause = source.songs[0].end + PAUSE / 2
        assert not any(part.start < pause < part.end for part in parts)
        assert parts[0].start < pause < parts[-1].end
        assert 57.0 <= proposal.length <= 60.0
    assert "of song 2" in " ".join(proposal.reason for proposal in offered)


def test_a_cut_of_both_is_made_kept_and_given_up(made):
    folder, routine, first, _, source, _ = made
    eights = [
        b for b, c in zip(source.beatmap.beats, source.beatmap.counts, strict=True) if c.count == 1
    ]
    start = source.songs[1].start
    later = [b for b in eights if b > start]
    parts = (CutPart(0.0, eights[6]), CutPart(later[3], later[8]))
    result = make_cut(folder, source, Cut(source.song, "", "", parts), quiet)
    cut = with_cut(routine, first, source, result)
    save_folder(folder, cut, result.beatmap)
    opened = open_folder(folder)
    assert opened.routine == cut
    assert opened.routine.cut.songs == source.songs
    # Beats go on over the join, in the second song's tempo behind it.
    steps = np.diff(result.beatmap.beats)
    assert np.allclose(steps[:40], 0.5, atol=0.006)
    assert np.allclose(steps[-39:], 0.6, atol=0.006)
    assert {p.hit for p in cut.poses} == {Count(2, 1), Count(5, 1)}
    assert len(cut.poses) + len(cut.aside.poses) == len(routine.poses)
    again = source_of(folder, cut, result.beatmap)
    assert again.first.song == "song.wav"
    assert again.first.beatmap.beats == first.beats
    assert again.first.beatmap.track_hash == first.track_hash
    back = with_whole_song(cut, result.beatmap, again)
    assert (back.track, back.cut, back.poses) == ("song.wav", None, routine.poses)
    # The coach's copy from before is still of this music.
    assert on_music_of(cut, result.beatmap, routine, first) is not None
    save_folder(folder, routine, first)


@pytest.mark.parametrize(
    ("songs", "sentence"),
    [
        ([{"song": "../a.wav", "hash": "a", "start": "0 s", "end": "9 s"}], "leads out"),
        ([{"song": "a.wav", "hash": "a", "start": "0 s", "end": "9 s"}], "do not follow"),
        ([{"song": "a.wav", "hash": "a", "start": "9 s", "end": "0 s"}] * 2, "ends before"),
        ("a.wav", "not a list"),
    ],
)
def test_a_recipe_that_names_songs_wrongly_is_told(songs, sentence, tmp_path):
    cut = {"song": "both.flac", "hash": "a", "beats": "b.yaml", "songs": songs}
    cut["parts"] = [{"start": "0 s", "end": "5 s"}]
    path = tmp_path / "routine.yaml"
    path.write_text(json.dumps({"cut": cut}))
    top = MappingReader(load_yaml(path), ("cut",))
    read_cut(top, tmp_path)
    assert any(sentence in error.sentence for error in top.errors), top.errors


def test_the_same_song_twice_and_what_is_too_long_are_refused(made, monkeypatch):
    folder, _, first, _, source, path = made
    with pytest.raises(UserError, match="is in the cut already"):
        add_song(folder, source, path, quiet)
    monkeypatch.setattr(added_song, "MOST", 100.0)
    with pytest.raises(UserError, match="longer than 30 minutes together"):
        add_song(folder, Source("song.wav", first), path, quiet)
    assert cutting.load_source(folder, source, quiet).duration > 100.0
    assert load_yaml(folder / "routine.yaml")
    assert map_of_cut(source.beatmap, Cut("", "", "", (CutPart(0, 50.0),))).beats

"""beats.yaml: what is saved is read, what is wrong is told with its line, all at once."""

from __future__ import annotations

import re

import numpy as np
import pytest
import yaml
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rehearse.files.user_error import UserError, UserErrors
from rehearse.music.beatlist import export_beats, import_beats
from rehearse.music.beatmap import Accent, BeatMap, Build, Confidence, Part, Stretch
from rehearse.music.mapfile import check_track, load_map, map_text, save_map
from rehearse.music.track import Track

DURATION = 60.0
micro = st.integers(0, int(DURATION * 1e6) - 1).map(lambda n: n / 1e6)
shares = st.integers(0, 1_000_000).map(lambda n: n / 1e6)
words = st.text("ABCdef 12", max_size=8).map(lambda s: " ".join(s.split()))


def pairs(size):
    edges = st.lists(micro, min_size=0, max_size=2 * size, unique=True).map(sorted)
    return edges.map(lambda e: [(a, b) for a, b in zip(e[::2], e[1::2], strict=False) if b > a])


@st.composite
def beatmaps(draw):
    free = [Stretch(*p) for p in draw(pairs(3))]
    times = draw(st.lists(micro, max_size=40, unique=True).map(sorted))
    beats = [t for t in times if not any(t in s for s in free)]
    some = st.lists(st.sampled_from(beats), unique=True, max_size=3) if beats else st.just([])
    return BeatMap(
        draw(st.text("0123456789abcdef", min_size=32, max_size=32)),
        DURATION,
        tuple(beats),
        tuple(draw(st.lists(st.integers(1, 12), min_size=len(beats), max_size=len(beats)))),
        tuple(free),
        tuple(sorted(draw(some))),
        tuple(
            sorted(Accent(t, draw(shares)) for t in draw(st.lists(micro, max_size=5, unique=True)))
        ),
        tuple(Build(a, b, draw(st.none() | micro)) for a, b in draw(pairs(3))),
        tuple(Stretch(a, b) for a, b in draw(pairs(3))),
        tuple(Part(a, b, draw(words)) for a, b in draw(pairs(3))),
        tuple(Confidence(a, b, draw(shares)) for a, b in draw(pairs(3))),
    )


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(beatmap=beatmaps())
def test_what_is_saved_is_read(beatmap, tmp_path):
    path = tmp_path / "beats.yaml"
    save_map(path, beatmap)
    assert load_map(path) == beatmap
    assert map_text(load_map(path)) == path.read_text()


@given(beatmap=beatmaps())
def test_any_yaml_reader_reads_it(beatmap):
    # PyYAML as the outside reader; the rows are plain text to it.
    data = yaml.safe_load(map_text(beatmap))
    assert data["format"] == 1
    assert data["track"] == beatmap.track_hash
    rows = [line.split("\t") for line in (data["beats"] or "").splitlines()]
    assert [float(r[0]) for r in rows] == pytest.approx(list(beatmap.beats), abs=1e-9)


GOOD = map_text(
    BeatMap(
        "ab12",
        10.0,
        (0.5, 1.0, 1.5),
        (1, 2, 3),
        free=(Stretch(3.0, 4.0),),
        accents=(Accent(0.5, 1.0),),
        restarts=(1.0,),
    )
)


@pytest.mark.parametrize(
    ("old", "new", "line", "sentence"),
    [
        ("0.500000\t1\n", "0.500000\tone\n", 6, "cannot be read – write time, place"),
        ("0.500000\t1\n", "0.500000\t0\n", 6, "no place in a bar – write a whole number"),
        ("1.000000\t2\n", "0.400000\t2\n", 7, "put the rows in order"),
        ("1.500000\t3\n", "11.000000\t3\n", 8, "outside the song – write seconds between 0 and 10"),
        ("1.500000\t3\n", "nan\t3\n", 8, "outside the song"),
        ("1.500000\t3\n", "3.500000\t3\n", 8, "stands in free time"),
        ("3.000000\t4.000000", "4.000000\t3.000000", 11, "ends before it begins"),
        ("0.500000\t1.000000", "0.500000\t7", 17, "write a number from 0 to 1"),
        ("  1.000000\n", "  1.200000\n", 14, "write the time of a beat"),
        ("format: 1", "format: one", 1, "write format: 1"),
        ("duration: 10.000000", "duration: long", 3, "write the song's seconds"),
        ("quiets:", "quites:", 21, "means nothing here"),
    ],
)
def test_a_fault_names_its_line_and_what_to_write(old, new, line, sentence, tmp_path):
    path = tmp_path / "beats.yaml"
    assert old in GOOD
    path.write_text(GOOD.replace(old, new, 1))
    with pytest.raises(UserErrors) as caught:
        load_map(path)
    (error,) = caught.value.errors
    assert error.where == f"beats.yaml, line {line}"
    assert sentence in error.sentence


def test_all_faults_are_told_at_once(tmp_path):
    path = tmp_path / "beats.yaml"
    path.write_text(GOOD.replace("1.000000\t2", "1.000000\tx").replace("4.000000", "2.000000"))
    with pytest.raises(UserErrors) as caught:
        load_map(path)
    assert len(caught.value.errors) == 2
    assert len(caught.value.sentence.splitlines()) == 2


@pytest.mark.parametrize("text", ["", "just words", "- a\n- list", "format: [", "\ttab"])
def test_what_is_no_map_says_so(text, tmp_path):
    path = tmp_path / "beats.yaml"
    path.write_text(text)
    with pytest.raises(UserError):
        load_map(path)


def test_a_newer_format_is_refused_untouched(tmp_path):
    path = tmp_path / "beats.yaml"
    path.write_text(GOOD.replace("format: 1", "format: 2"))
    with pytest.raises(UserError, match="newer version"):
        load_map(path)
    assert "format: 2" in path.read_text()


def test_a_swapped_song_is_noticed(tmp_path):
    beatmap = BeatMap("ab12", 10.0)
    samples = np.zeros((100, 2), np.float32)
    assert check_track(beatmap, Track(samples, 44100, "ab12", "any name")) is None
    error = check_track(beatmap, Track(samples, 44100, "cd34", "song"))
    assert "another song" in error.sentence


def test_the_map_before_is_kept(tmp_path):
    path = tmp_path / "beats.yaml"
    save_map(path, BeatMap("ab12", 10.0))
    save_map(path, BeatMap("ab12", 11.0), versions=tmp_path / "versions")
    (kept,) = (tmp_path / "versions").iterdir()
    assert load_map(kept).duration == 10.0


# Plain beat lists, in the form of the open beat-tracking data sets (time, tab, place in the bar).


def test_a_beat_list_goes_out_and_comes_back(tmp_path):
    beatmap = load_text(GOOD, tmp_path)
    path = tmp_path / "song.beats"
    export_beats(path, beatmap)
    assert path.read_text() == "0.500000\t1\n1.000000\t2\n1.500000\t3\n"
    again = import_beats(path, BeatMap("ab12", 10.0))
    assert (again.beats, again.places) == (beatmap.beats, beatmap.places)


def test_mir_eval_reads_what_is_written(tmp_path):
    import mir_eval

    path = tmp_path / "song.beats"
    export_beats(path, load_text(GOOD, tmp_path))
    times, labels = mir_eval.io.load_labeled_events(str(path), delimiter="\t")
    assert times.tolist() == [0.5, 1.0, 1.5]
    assert [str(x) for x in labels] == ["1", "2", "3"]


def test_a_list_of_times_alone_is_counted_in_fours(tmp_path):
    path = tmp_path / "song.txt"
    path.write_text("# taps\n" + "\n".join(f"{t / 2}" for t in range(1, 7)))
    assert import_beats(path, BeatMap("x", 10.0)).places == (1, 2, 3, 4, 1, 2)


@pytest.mark.parametrize(
    "text",
    [
        "0.5\t1\r\n1.25\t2\r\n2\t3\r\n",
        "\ufefftime\tplace\n0.5\t1\n1.25\t2\n\n2\t3\n",
        "0.5,1\n1.25,2\n2.0,3",
        "0.5, 1\n1.25, 2\n2.0, 3\n",
        "0,5;1\n1,25;2\n2,0;3\n",
        "0,5\t1\n1,25\t2\n2,0\t3\n",
        "# the coach's\n 0.5   1  # here\n1.25 2.0\n  2.0 3.0  \n",
        b"# f\xfcr Anna\n0.5 1\n1.25 2\n2.0 3\n",
    ],
)
def test_lists_from_elsewhere_are_read(text, tmp_path):
    path = tmp_path / "song.txt"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    beatmap = import_beats(path, BeatMap("x", 10.0))
    assert (beatmap.beats, beatmap.places) == ((0.5, 1.25, 2.0), (1, 2, 3))


def test_the_list_of_another_song_is_refused_in_one_sentence(tmp_path):
    path = tmp_path / "song.txt"
    path.write_text("".join(f"{20 + k / 2}\t{k % 4 + 1}\n" for k in range(400)))
    with pytest.raises(UserError) as caught:
        import_beats(path, BeatMap("x", 10.0))
    assert caught.value.sentence == (
        "song.txt, line 1: 400 lines are wrong, the first of them lies outside the song"
        " – check that the list is this song's."
    )


def test_free_time_gives_way_to_imported_beats(tmp_path):
    path = tmp_path / "song.txt"
    path.write_text("1.0 1\n2.0 2\n")
    old = BeatMap("x", 10.0, free=(Stretch(0.5, 3.0), Stretch(5.0, 6.0)))
    assert import_beats(path, old).free == (Stretch(5.0, 6.0),)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "holds no beat"),
        ("1.0 1\n0.5 2\n", r"line 2.*put the beats in order"),
        ("1.0 1\nx 2\n", r"line 2.*write time, tab"),
        ("99 1\n", r"line 1.*outside the song"),
        ("1.0 1\n2.0 0\n", r"line 2.*a whole number from 1"),
        ("1.0 1 x\n", r"line 1.*write time, tab"),
        ("PK\0\3", "is not a beat list"),
    ],
)
def test_a_faulty_beat_list_says_where(text, sentence, tmp_path):
    path = tmp_path / "song.txt"
    path.write_text(text)
    with pytest.raises(UserError) as caught:
        import_beats(path, BeatMap("x", 10.0))
    assert re.search(sentence, caught.value.sentence)


def load_text(text, folder):
    path = folder / "some.yaml"
    path.write_text(text)
    return load_map(path)

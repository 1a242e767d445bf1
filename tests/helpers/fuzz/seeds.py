"""Sound files of every kind that the program opens, small and invented."""

from __future__ import annotations

import io
import zipfile
from datetime import UTC, datetime, timedelta
from pathlib import Path

import av
import numpy as np
import soundfile
from PIL import Image

from rehearse.music.beatmap import Accent, BeatMap, Build, Confidence, Part, Stretch
from rehearse.music.cut import Cut, CutPart, SourceSong, map_of_cut
from rehearse.music.mapfile import save_map
from rehearse.music.position import Count, Length, Seconds
from rehearse.music.track import Track
from rehearse.practice.logbook import Logbook
from rehearse.practice.passes import Pass, PoseTaken
from rehearse.practice.roundlog import CallDone, RoundDone
from rehearse.practice.takelog import PoseRead, TakeDone
from rehearse.routine.cutting import CutResult, Source, with_cut
from rehearse.routine.folder import open_folder, save_folder
from rehearse.routine.model import (
    Facing,
    Move,
    OwnMove,
    OwnPose,
    Place,
    Placed,
    Routine,
    Section,
    Side,
    StagePart,
)
from rehearse.routine.remarks import read_remarks, receive
from tests.helpers.films import music, write_film

RATE = 48_000
#: What is kept of the film in the logbook; a map of the song that is cut.
KEPT, SONG_MAP = "takes/0123456789abcdef", "cut/song beats 5e1f.yaml"
#: Ending, container and encoder of each format of a song; "": another library writes it.
SONGS = {
    "wav": ("wav", "pcm_s16le"),
    "aiff": ("aiff", "pcm_s16be"),
    "flac": ("flac", "flac"),
    "ogg": ("ogg", ""),
    "opus": ("ogg", "libopus"),
    "mp3": ("mp3", "libmp3lame"),
    "m4a": ("ipod", "aac"),
    "alac.m4a": ("ipod", "alac"),
    "webm": ("webm", "libopus"),
    "mka": ("matroska", "pcm_s16le"),
    "wma": ("asf", "wmav2"),
    "au": ("au", "pcm_s16be"),
    "caf": ("caf", "pcm_s16le"),
    "wv": ("wv", "wavpack"),
    "tta": ("tta", "tta"),
    "aac": ("adts", "aac"),
}
RULES = """format: 1
name: Club night
body: The club
event: evening show
date: 2027
source: the club's sheet
limit: 60 s
minimum: 45 s
warning: 10 s
required: [side chest]
mandatory: [crucifix]
forbidden:
- what: lying on the stage
  words: [lying, lie down]
  poses: [most muscular]
  why: it disqualifies
remember:
- bring the music as mp3, labelled
"""
CHECKS = "format: 1\nshortest_hold: 2 s\nlongest_gap: 6 s\none_facing: 0.8\nbalance_from: 4\n"
#: As the coach's page saves them; the routine's id is put in.
REMARKS = """{"format": 1, "remarks_on": "ID", "base": "0123456789abcdef", "title": "t",
 "author": "Kim", "remarks": [
 {"id": "a1", "pose": "aa02", "text": "Chest up.", "written": "2026-11-30T18:30:00.000Z",
  "change": {"hit": "9.000 s", "hold": "6 counts", "facing": "back", "pose": "vacuum"}},
 {"id": "a2", "move": "cc01", "text": "Slower.", "change": {}},
 {"id": "a3", "time": 12.5, "text": "Breathe.", "change": {}}]}
"""
SETTINGS = (
    "[General]\nfolder=/nowhere\ndistance_m=4\nvolume_music=0.8\ngeometry=@ByteArray(\\0\\x1)\n"
    'reduced_motion=true\nvoice=en\ndrill="{}"\nsilent=false\n'
)


def make_folder(folder: Path) -> None:
    """A routine of four poses with its map, rules, checks, picture, voice, logbook and song."""
    beats = tuple(round(1.0 + 0.5 * k, 6) for k in range(72))
    beatmap = BeatMap(
        track_hash="5e1f", duration=38.0, beats=beats, places=tuple(k % 4 + 1 for k in range(72)),
        free=(Stretch(0.0, 1.0), Stretch(37.0, 38.0)), restarts=(9.0,),
        accents=(Accent(5.0, 0.9), Accent(13.0, 0.6)), builds=(Build(9.0, 13.0, 13.0),),
        quiets=(Stretch(20.0, 23.0),), parts=(Part(1.0, 17.0, "A"), Part(17.0, 37.0, "B")),
        confidence=(Confidence(0.0, 38.0, 0.9),),
    )  # fmt: skip
    poses = (
        Placed("aa01", "crouch", Seconds(0.5), Length(0.4, False), Length(0.3, False)),
        Placed("aa02", "front double biceps", Count(2, 1), note="Chin up."),
        Placed("aa03", "lantern", Count(4, 1), facing=Facing.BACK, say="lantern"),
        Placed(
            "aa04", "side chest left", Count(6, 5, 2), Length(6), Length(6), pinned=True,
            moves=(Move("cc01", "gather", Length(2), note="Slow."), Move("cc02", "fan", Length(2))),
            turn=Side.LEFT, again=(Count(7, 3),), place=Place.FRONT_LEFT,
        ),
    )  # fmt: skip
    routine = Routine(
        title="Paper Lanterns", track="song.wav", show="Harbour Hall Open", division="Open class",
        show_date="2027-04-17", rules="club", stage=StagePart(0.0, 36.0, 0.0, 1.5), poses=poses,
        sections=(Section("bb01", "Opening", Seconds(0.0), Count(4, 1)),),
        own_poses=(OwnPose("lantern", picture="pictures/lantern.png", say="lantern"),),
        own_moves=(OwnMove("fan", ("pictures/lantern.png",), say="fan"),),
    )  # fmt: skip
    save_folder(folder, routine, beatmap)
    for name, text in (("rules/club.yaml", RULES), ("checks.yaml", CHECKS)):
        (folder / name).parent.mkdir(exist_ok=True)
        (folder / name).write_text(text)
    for name, data in (
        ("pictures/lantern.png", picture("png")),
        ("voice/5.wav", sound("wav", 0.4)),
    ):
        (folder / name).parent.mkdir(exist_ok=True)
        (folder / name).write_bytes(data)
    (folder / "song.wav").write_bytes(sound("wav", 1.5))
    make_logbook(folder / "practice.sqlite")
    sent = REMARKS.replace("ID", open_folder(folder).routine.id)
    (folder / "coach.json").write_text(sent)
    came = read_remarks(sent.encode(), folder / "coach.json", open_folder(folder).routine.id)
    receive(folder, came)
    (folder / KEPT).mkdir(parents=True)
    write_film(folder / KEPT / "film.mp4", music(2.4), [(0.3, 0.5), (1.4, 0.5)])
    (folder / KEPT / "001 hit.jpg").write_bytes(picture("jpeg"))


def make_cut_folder(folder: Path) -> None:
    """The same routine on two parts of its song, one pose set aside; the song is of two."""
    make_folder(folder)
    opened = open_folder(folder)
    parts = (CutPart(0.0, 9.0), CutPart(21.0, 37.0, 1, 0.003, 0.05, 0.01, -1.5))
    songs = (SourceSong("one.ogg", "a1", 0.0, 18.0), SourceSong("two.mp3", "b2", 20.0, 38.0))
    cut = Cut("song.wav", "5e1f", SONG_MAP, parts, songs)
    beatmap = map_of_cut(opened.beatmap, cut, hash_="c0de", duration=cut.length)
    track = Track(np.zeros((round(cut.length * 8000), 2), np.float32), 8000, "c0de")
    made = CutResult(cut, "cut/song cut c0de.flac", track, beatmap)
    source = Source("song.wav", opened.beatmap)
    (folder / "cut").mkdir()
    (folder / made.file).write_bytes(sound("flac", 1.5))
    save_map(folder / SONG_MAP, opened.beatmap, versions=folder / "versions")
    save_folder(folder, with_cut(opened.routine, opened.beatmap, source, made), beatmap)
    if not open_folder(folder).routine.aside.poses:
        raise AssertionError("nothing was set aside")


def make_logbook(path: Path) -> None:
    """Twelve passes of one evening, a comparison round and a filmed run."""
    start = datetime(2026, 11, 25, 18, 0, tzinfo=UTC)
    with Logbook(path, fallback=path.with_name("spare.sqlite")) as logbook:
        for k in range(12):
            at = start + timedelta(seconds=30 * k)
            logbook.record(_pass(at, at + timedelta(seconds=20)))
        call = CallDone(
            "crouch", "face the front", 1, start, 1.0, 9.5, 10.0, verdict="missed", lost_at=4.0
        )
        end = start + timedelta(seconds=15)
        logbook.keep_round(RoundDone("turns", "club", 7, 10.0, 10.0, 1, start, end, True, (call,)))
        read = PoseRead("aa02", "front double biceps", 4.0, 1.0, "late", 0.2, 0.07, 0.5, 0.5)
        logbook.keep_take(TakeDone("t1", "run.mp4", KEPT, start, 1.0, 3.0, 1.0, "", (read,)))
    path.with_name("spare.sqlite").unlink(missing_ok=True)


def _pass(started: datetime, ended: datetime) -> Pass:
    taken = (
        PoseTaken("aa01", "crouch", 0.2, 0.9),
        PoseTaken("aa02", "front double biceps", 4.0, 7.0, "aa01", "crouch"),
    )
    return Pass(
        "drill", 0.0, 9.0, started, ended, 0.8, "bb01", "Opening", verdict="clean", taken=taken
    )


def tones(seconds: float) -> np.ndarray:
    """Two tones, shape (2, frames), int16."""
    time = np.arange(round(seconds * RATE)) / RATE
    wave = [0.4 * np.sin(2 * np.pi * f * time) for f in (440.0, 554.4)]
    return (np.stack(wave) * 32767).astype(np.int16)


def sound(kind: str, seconds: float) -> bytes:
    """A sound file of one of the formats in `SONGS`."""
    container, encoder = SONGS[kind]
    out = io.BytesIO()
    out.name = f"song.{kind}"
    if not encoder:  # Vorbis, which PyAV's wheels do not write
        soundfile.write(out, tones(seconds).T, RATE, format="OGG", subtype="VORBIS")
        return out.getvalue()
    with av.open(out, "w", container) as opened:
        stream = opened.add_stream(encoder, rate=RATE, layout="stereo")
        stream.bit_rate = 128_000
        frame = av.AudioFrame.from_ndarray(
            np.ascontiguousarray(tones(seconds).T.reshape(1, -1)), format="s16", layout="stereo"
        )
        frame.sample_rate = RATE
        for packet in (*stream.encode(frame), *stream.encode(None)):
            opened.mux(packet)
    return out.getvalue()


def picture(kind: str) -> bytes:
    """A photo of 60 by 80 pixels."""
    out = io.BytesIO()
    Image.linear_gradient("L").resize((60, 80)).convert("RGB").save(out, kind)
    return out.getvalue()


def zipped(folder: Path) -> bytes:
    """The folder as a zip."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for file in sorted(folder.rglob("*")):
            if file.is_file():
                archive.write(file, f"Paper Lanterns/{file.relative_to(folder).as_posix()}")
    return out.getvalue()

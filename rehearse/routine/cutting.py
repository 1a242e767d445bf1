"""Making a cut of a routine's song, changing it, and going back to the whole song.

The song's own file stays as it is. What a cut is made of is in the routine (`cut:`), the map of the
whole song in the folder `cut/`, beside the sound of the cut, which the routine's `track` names.
Both are written before the routine names them, under names of their own: nothing is written over,
and undoing needs nothing that is not there.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from pathlib import Path

from rehearse.files.atomic import save_atomic, user_error_of
from rehearse.files.inside import inside
from rehearse.files.user_error import UserError
from rehearse.music.analysis.likeness import SongFeatures, hear
from rehearse.music.beatmap import BeatMap
from rehearse.music.cut import (
    Cut,
    CutPart,
    SourceSong,
    files_of,
    map_of_cut,
    told_back,
    whole,
)
from rehearse.music.cutsound import splice_sound, write_sound
from rehearse.music.decode import load_track
from rehearse.music.mapfile import load_map, map_text
from rehearse.music.proposals import Proposal, from_heard, propose
from rehearse.music.track import Track
from rehearse.routine.follow import Music, follow, music_of
from rehearse.routine.model import Routine, StagePart
from rehearse.words import _
from rehearse.work.progress import Report, between

#: Seconds of the fade that takes the edge off a version that begins within the song.
EDGE = 0.02


@dataclass(frozen=True)
class Source:
    """The song that a routine's music comes from.

    Args:
        song: its file in the folder. beatmap: its map, with what was corrected in a cut of it.
        songs: what it was put together from; empty: it is one song.
    """

    song: str
    beatmap: BeatMap
    songs: tuple[SourceSong, ...] = ()

    @property
    def first(self) -> Source:
        """The first of several songs by itself; else this."""
        if not self.songs:
            return self
        only = self.songs[0]
        cut = Cut(only.song, only.hash, "", (CutPart(only.start, only.end),))
        beatmap = map_of_cut(self.beatmap, cut, hash_=only.hash, duration=only.end - only.start)
        return Source(only.song, beatmap)


@dataclass(frozen=True, eq=False)
class CutResult:
    """A cut that was made: its recipe, its file in the folder, its sound, its map.

    Args:
        lowered: decibels it was turned down because the song is mastered beyond full scale.
    """

    cut: Cut
    file: str
    track: Track
    beatmap: BeatMap
    lowered: float = 0.0


def source_of(folder: Path, routine: Routine, beatmap: BeatMap) -> Source:
    """The song of a routine, whether it is cut or not.

    Raises:
        UserError: the song's own map is missing or cannot be read.
    """
    cut = routine.cut
    if cut is None:
        return Source(routine.track, beatmap)
    song = load_map(_inside(folder, cut.beats))
    if song.track_hash != cut.hash:
        do = _("take the copy with the right one, or choose the song again")
        raise UserError(_("is not the map of the song that is cut"), where=cut.beats, do=do)
    return Source(cut.song, told_back(song, cut, beatmap), cut.songs)


def _inside(folder: Path, name: str) -> Path:
    try:
        return inside(folder, name)
    except ValueError as error:
        raise UserError(str(error), where="routine.yaml") from error


def load_source(folder: Path, source: Source, report: Report) -> Track:
    """The song itself, decoded.

    Raises:
        UserError: it is missing, cannot be read, or is another one than its map is of.
    """
    track = load_track(_inside(folder, source.song), report)
    if track.content_hash != source.beatmap.track_hash:
        do = _("put the first song back")
        raise UserError(_("is another song than the one that is cut"), where=source.song, do=do)
    return track


def versions_within(
    folder: Path, source: Source, limit: float, report: Report
) -> tuple[Proposal, ...]:
    """The versions of a song that are offered; as `propose`."""
    track = load_source(folder, source, between(report, 0.0, 0.2, _("Reading the song")))
    told = between(report, 0.2, 1.0)
    return propose(track, source.beatmap, source.song, limit, told, source.songs)


@dataclass(frozen=True, eq=False)
class Listened:
    """A song that was listened to, with the versions found; `why` says why there are none."""

    track: Track
    heard: SongFeatures
    proposals: tuple[Proposal, ...]
    why: str = ""


def listen_to(
    folder: Path, source: Source, track: Track | None, limit: float, report: Report
) -> Listened:
    """Listen to a song, for versions of it and for parts chosen by hand.

    Args:
        track: the song, where it is decoded already.

    Raises:
        UserError: as `load_source`.
    """
    if track is None:
        words = _("Reading the song")
        track = load_source(folder, source, between(report, 0.0, 0.2, words))
    heard = hear(track, between(report, 0.2, 0.7))
    try:
        proposals = from_heard(
            track, source.beatmap, heard, source.song, limit, report, source.songs
        )
    except UserError as error:
        return Listened(track, heard, (), error.sentence)
    return Listened(track, heard, proposals)


def versions_again(listened: Listened, source: Source, limit: float, report: Report) -> Listened:
    """The versions within another limit."""
    try:
        proposals = from_heard(
            listened.track,
            source.beatmap,
            listened.heard,
            source.song,
            limit,
            report,
            source.songs,
        )
    except UserError as error:
        return replace(listened, proposals=(), why=error.sentence)
    return replace(listened, proposals=proposals, why="")


def make_cut(folder: Path, source: Source, cut: Cut, report: Report) -> CutResult:
    """Make the sound of a cut and write it, with the song's map, into the routine's folder.

    Args:
        cut: its parts; where the song's map lies is filled in.
        report: told how far it is; may raise to stop, then nothing half is left behind.

    Raises:
        UserError: as `load_source`, or the folder cannot be written.
    """
    track = load_source(folder, source, between(report, 0.0, 0.4, _("Reading the song")))
    song_map = map_text(source.beatmap).encode()
    recipe = f"{source.beatmap.track_hash} {cut.parts}".encode()
    beats, _unused = files_of(source.song, _digest(song_map))
    _unused, file = files_of(source.song, _digest(recipe))
    cut = replace(cut, song=source.song, hash=track.content_hash, beats=beats, songs=source.songs)
    sound = splice_sound(track.samples, track.sample_rate, cut)
    path = _inside(folder, file)
    lowered = write_sound(path, sound, track.sample_rate, between(report, 0.5, 0.8))
    try:
        if not _inside(folder, beats).is_file():
            save_atomic(_inside(folder, beats), song_map)
    except OSError as error:
        raise user_error_of(error, folder / beats) from error
    again = load_track(path, between(report, 0.8, 1.0, _("Reading the cut")))
    beatmap = map_of_cut(source.beatmap, cut, hash_=again.content_hash, duration=again.duration)
    return CutResult(cut, file, again, beatmap, lowered)


def remake(folder: Path, routine: Routine, beatmap: BeatMap, report: Report) -> Track:
    """The sound of a routine's cut made anew, where its file is gone but the song is there.

    Raises:
        UserError: as `make_cut`.
    """
    assert routine.cut is not None
    return make_cut(folder, source_of(folder, routine, beatmap), routine.cut, report).track


def _digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()[:8]


def with_cut(
    routine: Routine,
    beatmap: BeatMap,
    source: Source,
    made: CutResult,
    fade_out: float | None = None,
) -> Routine:
    """The routine on a cut that was made.

    Args:
        routine, beatmap: as they are now. source: the song. made: the cut.
        fade_out: seconds over which its end fades; None: as it was.
    """
    cut, length = made.cut, round(made.track.duration, 6)
    stage = routine.stage
    if fade_out is None:
        fade_out = stage.fade_out if stage and routine.cut else 0.0
    edge = EDGE if cut.parts[0].start > EDGE else 0.0
    part = StagePart(0.0, length, edge, min(fade_out, length - edge))
    moved = follow(routine, music_of(routine, beatmap), Music(cut, made.beatmap))
    return replace(moved, track=made.file, stage=part, cut=cut)


def with_whole_song(routine: Routine, beatmap: BeatMap, source: Source) -> Routine:
    """The routine on the whole song again, of several on the first; what was set aside is back.

    The map that goes with it is `source.first.beatmap`.
    """
    source = source.first
    song = source.beatmap
    music = Music(whole(source.song, song.track_hash, song.duration), song)
    moved = follow(routine, music_of(routine, beatmap), music)
    return replace(moved, track=source.song, stage=None, cut=None)

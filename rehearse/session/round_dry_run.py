"""A comparison round without screen and sound card, into files.

`session.wav` is what would have been heard, `calls.csv` says what was called when and for how
long, one picture a call shows the stage display, and the round goes to the logbook as a dry run.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

import soundfile

from rehearse.cueing.cues import CueSheet
from rehearse.cueing.voice import SpeechEngine
from rehearse.files.atomic import save_atomic, user_error_of
from rehearse.files.door import path_inside
from rehearse.files.inside import safe_name
from rehearse.files.user_error import UserError
from rehearse.music.apart import load_apart
from rehearse.music.track import Track
from rehearse.practice.logbook import FILE_NAME, Logbook
from rehearse.practice.roundlog import CallDone, RoundDone
from rehearse.routine.folder import OpenedFolder, open_folder
from rehearse.routine.poses import load_catalogue
from rehearse.routine.rounds import Round, RoundWish, make_round
from rehearse.routine.rules import load_rules
from rehearse.session.dry_run import FrameWriter
from rehearse.session.round_timeline import (
    RoundTimeline,
    lay_out,
    measure_with,
    silent_track,
    sound_of,
    view_at,
)
from rehearse.words import _
from rehearse.work.progress import Report

_COLUMNS = ("call-out", "call", "called at", "held from", "relax at", "hold", "pose", "said")
#: Of each hold the part at which its picture is taken.
_PICTURED = 0.4


@dataclass(frozen=True)
class RoundFiles:
    """What a dry run of a round made."""

    made: Round
    out: Path
    pictures: tuple[Path, ...]
    seconds: float

    @property
    def words(self) -> str:
        """What was made and where, for the terminal."""
        lines = (
            _(
                "{words}, {number} calls, {seconds:.1f} s of sound: {out}",
                words=self.made.words,
                number=len(self.made.calls),
                seconds=self.seconds,
                out=self.out / "session.wav",
            ),
            _(
                "{number} pictures of the stage display: {out}",
                number=len(self.pictures),
                out=self.out,
            ),
            _("what was called when: {out}", out=self.out / "calls.csv"),
            _("seed {seed} makes the same round again", seed=self.made.seed),
            *self.made.notes,
        )
        return "\n".join(lines)


def round_of(folder: Path, wish: RoundWish) -> Round:
    """The round of a folder's rule set, division and figure.

    Raises:
        UserError: the folder or its rule set is damaged, or the division has no such round.
    """
    return _round_of(open_folder(folder), wish)


def _round_of(opened: OpenedFolder, wish: RoundWish) -> Round:
    routine = opened.routine
    return make_round(
        load_rules(routine.rules, opened.folder),
        wish,
        load_catalogue().of(routine),
        division=routine.division,
        figure=routine.figure,
    )


def background_music(
    folder: Path, own: bool, song: Path | None, report: Report | None = None
) -> Track | None:
    """What is played beneath a round; None: nothing. It needs no beat, and so no map.

    Args:
        own: the folder's own song. song: another file, which comes first.

    Raises:
        UserError: there is no song, or it cannot be read.
    """
    if song is not None:
        return load_apart(song, report)
    if not own:
        return None
    opened = open_folder(folder)
    if not opened.routine.track:
        raise UserError(_("has no song yet"), where=folder, do=_("name one with --background-song"))
    return load_apart(path_inside(opened.folder, opened.routine.track), report)


def dry_round(
    folder: Path,
    out: Path,
    wish: RoundWish,
    pictures: Callable[[CueSheet], FrameWriter],
    *,
    speech_engine: SpeechEngine | None = None,
    music: Track | None = None,
) -> RoundFiles:
    """Call a round of the folder's rules and division into the folder `out`.

    Args:
        music: background music; None: the calls alone.

    Raises:
        UserError: as `round_of`, or `out` cannot be written.
    """
    opened = open_folder(folder)
    made = _round_of(opened, wish)
    timeline = lay_out(made, measure_with(speech_engine))
    track = music or silent_track()
    try:
        out.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise user_error_of(error, out) from error
    sound = sound_of(timeline, track, speech_engine)
    try:
        soundfile.write(out / "session.wav", sound, track.sample_rate, subtype="PCM_16")
    except (OSError, soundfile.LibsndfileError) as error:
        where = out / "session.wav"
        raise UserError(
            _("the sound could not be written"), where=where, do=_("free some space")
        ) from error
    save_atomic(out / "calls.csv", _table(timeline).encode())
    shown = tuple(_pictures(timeline, pictures(timeline.sheet), out))
    with Logbook(opened.folder / FILE_NAME, identity=opened.routine.id) as logbook:
        logbook.keep_round(as_done(timeline, datetime.now().astimezone()))
    return RoundFiles(made, out, shown, len(sound) / track.sample_rate)


def as_done(timeline: RoundTimeline, began: datetime) -> RoundDone:
    """The round as if it had been called at `began`, nobody judging it."""
    wish = timeline.round.wish
    calls = tuple(
        CallDone(
            pose=one.call.pose.name,
            said=one.call.say,
            callout=one.call.callout,
            called=began + timedelta(seconds=one.at),
            spoken=one.hit - one.at,
            hold=one.relax - one.hit,
            planned=one.call.hold,
        )
        for one in timeline.calls
        if one.call.held
    )
    return RoundDone(
        kind=wish.kind,
        rules=timeline.round.rules.key,
        seed=timeline.round.seed,
        hold=wish.hold,
        longest=wish.longest,
        callouts=wish.callouts,
        started=began,
        ended=began + timedelta(seconds=timeline.end),
        complete=True,
        calls=calls,
        dry_run=True,
    )


def _pictures(timeline: RoundTimeline, painter: FrameWriter, out: Path) -> Iterator[Path]:
    for number, one in enumerate(timeline.calls, 1):
        time = one.hit + _PICTURED * (one.relax - one.hit)
        path = out / f"{safe_name(f'call {number:02d} {one.call.say}')}.png"
        painter.save(view_at(timeline, time), path)
        yield path


def _table(timeline: RoundTimeline) -> str:
    out = io.StringIO()
    table = csv.writer(out)
    table.writerow(_COLUMNS)
    for number, one in enumerate(timeline.calls, 1):
        call = one.call
        times = (f"{t:.3f}" for t in (one.at, one.hit, one.relax))
        hold = f"{one.relax - one.hit:.1f}" if call.held else ""
        pose = call.pose.name if call.held else ""
        table.writerow((call.callout, number, *times, hold, pose, call.say))
    return out.getvalue()

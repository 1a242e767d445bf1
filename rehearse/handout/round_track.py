"""A comparison round as a file for the phone: the calls, with background music or without."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from rehearse.cueing.voice import SpeechEngine
from rehearse.files.atomic import save_atomic
from rehearse.handout.cue_plan import refuse_endless
from rehearse.handout.cue_track import levelled
from rehearse.handout.encode import Chapter, Label, resampled
from rehearse.handout.formats import AudioFormat, carried_rate
from rehearse.handout.loudness import LoudnessMeasure
from rehearse.music.track import Track
from rehearse.routine.rounds import Round
from rehearse.session.round_timeline import (
    RoundTimeline,
    lay_out,
    measure_with,
    silent_track,
    sound_of,
)
from rehearse.words import _
from rehearse.work.progress import Report


@dataclass(frozen=True)
class RoundTrack:
    """What was written: the file, its loudness as decoded again, seconds, chapters."""

    path: Path
    loudness: LoudnessMeasure
    length: float
    chapters: tuple[Chapter, ...]


def write_round_track(
    made: Round,
    title: str,
    path: Path,
    speech_engine: SpeechEngine | None,
    form: AudioFormat,
    *,
    music: Track | None = None,
    report: Report | None = None,
) -> RoundTrack:
    """Render a round, bring it to the loudness of a cue track, label and write it.

    Args:
        title: the routine's. music: background music, repeated as often as needed; None: none.
        report: told how far it is; may raise to stop, then nothing is written.

    Raises:
        UserError: it would last more than 40 minutes, or the file cannot be written.
    """
    told = report or (lambda fraction, text: None)
    timeline = lay_out(made, measure_with(speech_engine))
    refuse_endless(timeline.end)
    track = music or silent_track()
    told(0.0, _("calling the round"))
    sound = sound_of(timeline, track, speech_engine)
    chapters = tuple(_chapters(timeline))
    label = Label(
        title=f"{title} – {made.words}",
        album=title,
        comment=f"comparison round, seed {made.seed}",
        chapters=chapters,
    )
    rate = carried_rate(form, track.sample_rate)
    sound = resampled(sound, track.sample_rate, rate)
    data, found = levelled(sound, rate, form, label, told)
    save_atomic(path, data)
    return RoundTrack(path, found, len(sound) / rate, chapters)


def _chapters(timeline: RoundTimeline) -> Iterator[Chapter]:
    """A chapter for every call, what comes before the first one with it."""
    begins = [0.0, *(one.at for one in timeline.calls[1:]), timeline.end]
    for number, one in enumerate(timeline.calls):
        name = one.call.words[:1].upper() + one.call.words[1:]
        yield Chapter(begins[number], begins[number + 1], name)

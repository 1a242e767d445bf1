"""What a handout will be, before it is made: a sheet's first page, a cue track's first seconds."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from rehearse.cueing.voice import SpeechEngine
from rehearse.cueing.voice.recordings import FOLDER
from rehearse.cueing.voice.speech_cache import default_store
from rehearse.handout.cue_plan import plan_stretches
from rehearse.handout.cue_track import unsaid
from rehearse.handout.handout_options import HandoutOptions
from rehearse.handout.handout_source import HandoutSource
from rehearse.handout.sheet import make_sheet, sheet_pictures
from rehearse.playback.segment import Segment
from rehearse.session.segment_builder import SegmentSpec, segment
from rehearse.work.progress import Report

#: Seconds of a cue track that are heard before it is made, and of those before a first hit that
#: comes late.
HEARD, BEFORE = 20.0, 10.0


def preview(
    source: HandoutSource, style: str, paper: str, dots_an_inch: float, report: Report | None = None
) -> bytes:
    """The first page as PNG.

    Raises:
        UserError: as `make_sheet`.
    """
    sheet = make_sheet(source, style=style, paper=paper, report=report)
    return sheet_pictures(sheet.pdf, dots_an_inch, most=1)[0]


def speech_engine_of(folder: Path, options: HandoutOptions) -> SpeechEngine:
    """Who speaks on the cue track: the voice chosen, and own recordings before it.

    Raises:
        UserError: there is no such voice.
    """
    return SpeechEngine(options.voice_setting, kept=default_store(), recordings=folder / FOLDER)


def unspoken(
    source: HandoutSource, options: HandoutOptions, report: Report | None = None
) -> tuple[str, ...]:
    """A sentence for each reason why something wished will not be said on the cue track.

    Raises:
        UserError: as `plan_stretches`.
    """
    stretches = plan_stretches(source, options.cue_plan)
    return unsaid(source, stretches, speech_engine_of(source.folder, options))


def heard(
    source: HandoutSource, options: HandoutOptions, sample_rate: int, report: Report | None = None
) -> Segment:
    """The first 20 s of the cue track, with its count-in, as the player plays them.

    Where no pose is hit in them they begin 10 s before the first hit.

    Args:
        sample_rate: the song's.

    Raises:
        UserError: as `plan_stretches`.
    """
    first = around_a_hit(source, plan_stretches(source, options.cue_plan)[0])
    return segment(first, source.sheet, sample_rate, speech_engine_of(source.folder, options))


def around_a_hit(source: HandoutSource, stretch: SegmentSpec) -> SegmentSpec:
    """At most 20 s of what is heard of `stretch`, a hit among them where it has one."""
    hits = [hit for hit in source.sheet.hits if stretch.start <= hit < stretch.end]
    begin = stretch.start
    if hits and (hits[0] - begin) / stretch.tempo > HEARD - BEFORE / 4:
        begin = hits[0] - BEFORE * stretch.tempo
    end = min(stretch.end, begin + HEARD * stretch.tempo)
    return replace(stretch, key="listen", start=begin, end=end, rest=0.0)

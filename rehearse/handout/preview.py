"""What a handout will be, before it is made: a sheet's first page, a cue track's first seconds."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from rehearse.cueing.voice import Speaker
from rehearse.cueing.voice.recordings import FOLDER
from rehearse.cueing.voice.store import default_store
from rehearse.handout.cue_plan import plan_stretches
from rehearse.handout.cue_track import unsaid
from rehearse.handout.material import Material
from rehearse.handout.options import HandoutOptions
from rehearse.handout.report import Report
from rehearse.handout.sheet import make_sheet, sheet_pictures
from rehearse.playback.passage import Passage
from rehearse.session.passages import Stretch, passage

#: Seconds of a cue track that are heard before it is made, and of those before a first hit that
#: comes late.
HEARD, BEFORE = 20.0, 10.0


def preview(
    material: Material, style: str, paper: str, dots_an_inch: float, report: Report | None = None
) -> bytes:
    """The first page as PNG.

    Raises:
        Fault: as `make_sheet`.
    """
    sheet = make_sheet(material, style=style, paper=paper, report=report)
    return sheet_pictures(sheet.pdf, dots_an_inch, most=1)[0]


def speaker_of(folder: Path, options: HandoutOptions) -> Speaker:
    """Who speaks on the cue track: the voice chosen, and own recordings before it.

    Raises:
        Fault: there is no such voice.
    """
    return Speaker(options.voice_setting, kept=default_store(), recordings=folder / FOLDER)


def unspoken(
    material: Material, options: HandoutOptions, report: Report | None = None
) -> tuple[str, ...]:
    """A sentence for each reason why something wished will not be said on the cue track.

    Raises:
        Fault: as `plan_stretches`.
    """
    stretches = plan_stretches(material, options.cue_plan)
    return unsaid(material, stretches, speaker_of(material.folder, options))


def heard(
    material: Material, options: HandoutOptions, sample_rate: int, report: Report | None = None
) -> Passage:
    """The first 20 s of the cue track, with its count-in, as the player plays them.

    Where no pose is hit in them they begin 10 s before the first hit.

    Args:
        sample_rate: the song's.

    Raises:
        Fault: as `plan_stretches`.
    """
    first = around_a_hit(material, plan_stretches(material, options.cue_plan)[0])
    return passage(first, material.sheet, sample_rate, speaker_of(material.folder, options))


def around_a_hit(material: Material, stretch: Stretch) -> Stretch:
    """At most 20 s of what is heard of `stretch`, a hit among them where it has one."""
    hits = [hit for hit in material.sheet.hits if stretch.start <= hit < stretch.end]
    begin = stretch.start
    if hits and (hits[0] - begin) / stretch.tempo > HEARD - BEFORE / 4:
        begin = hits[0] - BEFORE * stretch.tempo
    end = min(stretch.end, begin + HEARD * stretch.tempo)
    return replace(stretch, key="listen", start=begin, end=end, rest=0.0)

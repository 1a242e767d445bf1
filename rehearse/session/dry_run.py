"""The same rehearsal without screen and sound card, faster than real time, into files.

`session.wav` is what would have been heard, `cues.csv` says what was shown and said when, one
picture a cue shows the stage display, and the passes go to the logbook marked as dry run.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Protocol

import soundfile

from rehearse.cueing.count_in import count_length
from rehearse.cueing.cue_options import Said
from rehearse.cueing.cue_state import Cue, CueState
from rehearse.cueing.cues import CueSheet
from rehearse.cueing.speech import Speech, SpeechChoice, SpokenLine
from rehearse.cueing.texts import unsaid_words
from rehearse.cueing.voice import SpeechEngine
from rehearse.files.atomic import save_atomic, user_error_of
from rehearse.files.inside import safe_name
from rehearse.files.user_error import UserError
from rehearse.music.apart import load_mapped
from rehearse.playback.offline_render import render
from rehearse.playback.segment import Segment
from rehearse.practice.drill import Drill, fixed
from rehearse.practice.logbook import FILE_NAME, Logbook
from rehearse.practice.passplan import PassPlan, Work
from rehearse.practice.running import Running
from rehearse.practice.runthrough import RunThrough
from rehearse.practice.scope import section_scope, whole_scope
from rehearse.routine.folder import open_folder
from rehearse.routine.model import Routine
from rehearse.routine.poses import load_catalogue
from rehearse.session.rehearsal_context import RehearsalContext
from rehearse.session.session_view import SessionView, lead_in_state
from rehearse.words import _, ngettext, section_text

#: Of the cue list. `time heard` and `said at`, the stressed syllable, are seconds of output.
#: `kind` is a pose, a move (its name stands for the pose's) or again, a pose hit once more.
_COLUMNS = ("time heard", "pass", "count", "pose", "shown", "track", "said", "said at", "kind")
_UNSAID = _("(no room for the name)")
_SAME_BEAT = 0.002
#: A picture shows this many counts before the hit: name, countdown and the figure on its way.
_PICTURE_COUNTS = 2.0


class FrameWriter(Protocol):
    """Paints the stage display into files."""

    def save(self, view: SessionView, path: Path) -> None:
        """Write one PNG of the stage display as `view` has it."""


@dataclass(frozen=True)
class Planned:
    """One pass of the dry run: its plan, the second of output at which its music begins, and
    what is said, relative to that.
    """

    plan: PassPlan
    lead: float
    music: float
    speech: Speech

    def heard(self, time: float) -> float:
        """Second of output at which second `time` of the track is heard."""
        return self.music + (time - self.plan.start) / self.plan.tempo


@dataclass(frozen=True)
class DryRun:
    """What a dry run made."""

    out: Path
    sound: Path
    cues: Path
    pictures: tuple[Path, ...]
    passes: int
    seconds: float
    unsaid: tuple[Cue, ...] = ()

    @property
    def words(self) -> str:
        """What was made and where, for the terminal."""
        passes = ngettext("{passes} pass", "{passes} passes", self.passes, passes=self.passes)
        lines = (
            _(
                "{passes}, {seconds:.1f} s of sound: {sound}",
                passes=passes,
                seconds=self.seconds,
                sound=self.sound,
            ),
            _(
                "{number} pictures of the stage display: {out}",
                number=len(self.pictures),
                out=self.out,
            ),
            _("what was shown and said when: {cues}", cues=self.cues),
            unsaid_words(self.unsaid),
        )
        return "\n".join(line for line in lines if line)


def dry_run(
    folder: Path,
    out: Path,
    pictures: Callable[[RehearsalContext], FrameWriter],
    *,
    section: str | None = None,
    tempo: float = 1.0,
    passes: int = 1,
    speech_engine: SpeechEngine | None = None,
    said: Said = "both",
) -> DryRun:
    """Rehearse the routine in `folder`, or one of its sections, into the folder `out`.

    Args:
        pictures: makes the painter of the stage display for a score.
        section: name of a section, in any case; None: the whole routine.
        tempo: 0.4–1.05. passes: how often. said: names of poses, of moves, or both.

    Raises:
        UserError: the folder, the track or the section is at fault, or `out` cannot be written.
    """
    opened = open_folder(folder)
    if not opened.routine.track:
        raise UserError(
            _("has no song yet"), where=folder, do=_("choose one, or rehearse --round turns")
        )
    track = load_mapped(opened.folder / opened.routine.track, opened.beatmap)
    catalogue = load_catalogue().of(opened.routine)
    sheet = CueSheet.compile(opened.routine, opened.beatmap, catalogue)
    context = RehearsalContext(track, opened.routine, sheet, speech_engine, SpeechChoice(said=said))
    work = _work(opened.routine, context, section, round(tempo * 100), passes)
    _make(out)
    planned: list[Planned] = []
    played: list[Segment] = []
    running = Running(work, context.spots, dry_run=True)
    began, length = datetime.now().astimezone(), 0.0
    with Logbook(opened.folder / FILE_NAME, identity=opened.routine.id) as logbook:
        while (plan := running.upcoming) is not None:
            segment = context.segment(plan, str(len(planned) + 1))
            planned.append(Planned(plan, segment.lead, length + segment.lead, context.said(plan)))
            played.append(segment)
            music = (plan.end - plan.start) / plan.tempo
            running = running.music(began + timedelta(seconds=length + segment.lead))
            length += segment.lead + music + segment.rest
            running, done = running.ended(began + timedelta(seconds=length - segment.rest))
            logbook.record(done)
    sound = render(track, played).samples
    shown = tuple(_pictures(context, planned, pictures(context), out))
    _write_sound(out / "session.wav", sound, track.sample_rate)
    save_atomic(out / "cues.csv", _table(sheet, planned).encode())
    seconds = len(sound) / track.sample_rate
    unsaid = tuple(cue for one in planned for cue in one.speech.unsaid)
    paths = (out, out / "session.wav", out / "cues.csv")
    return DryRun(*paths, shown, len(planned), seconds, unsaid)


def _work(
    routine: Routine, context: RehearsalContext, section: str | None, percent: int, passes: int
) -> Work:
    beatmap = context.sheet.beatmap
    if section is None:
        whole = whole_scope(routine, beatmap)
        return RunThrough(whole, percent=percent, runs=passes, asks=False)
    for one in routine.sections:
        names = (one.name, section_text(one.name))
        if section.casefold() in map(str.casefold, names):
            return Drill(section_scope(routine, beatmap, one.id), fixed(percent), passes=passes)
    known = ", ".join(section_text(one.name) for one in routine.sections) or "none"
    raise UserError(
        _("there is no section {section!r}", section=section),
        do=_("choose one of: {names}", names=known),
    )


def _make(out: Path) -> None:
    try:
        out.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise user_error_of(error, out) from error


def _write_sound(path: Path, samples: object, sample_rate: int) -> None:
    try:
        soundfile.write(path, samples, sample_rate, subtype="PCM_16")
    except (OSError, soundfile.LibsndfileError) as error:
        raise UserError(
            _("the sound could not be written"), where=path, do=_("free some space")
        ) from error


def _cues(sheet: CueSheet, plan: PassPlan) -> list[Cue]:
    return [c for c in sheet.cues if plan.start - 1e-6 <= c.hit < plan.end]


def _pictures(
    context: RehearsalContext, planned: list[Planned], painter: FrameWriter, out: Path
) -> Iterator[Path]:
    for number, one in enumerate(planned, 1):
        for cue in _cues(context.sheet, one.plan):
            view = _view(context.sheet, one, cue)
            count = str(cue.placed.hit).replace(":", "-")
            name = f"pass {number} pose {cue.index + 1:02d} {count} {cue.name}"
            path = out / f"{safe_name(name)}.png"
            painter.save(view, path)
            yield path


def _view(sheet: CueSheet, one: Planned, cue: Cue) -> SessionView:
    """What the display shows two counts before `cue` is hit, and never before the last hit."""
    beatmap = sheet.beatmap
    beat = beatmap.beat_at(cue.hit)
    step = beatmap.interval(beat) if beat is not None else 0.5
    before = sheet.cues[cue.index - 1].hit if cue.index else -1e9
    time = max(cue.hit - _PICTURE_COUNTS * step, (before + cue.hit) / 2 if cue.index else -1e9)
    if time < one.plan.start:
        cue_state = lead_in_state(sheet, one.plan, (time - one.plan.start) / one.plan.tempo)
        return SessionView("count-in", cue_state, one.plan, heard=one.plan.start)
    return SessionView("music", sheet.at(time), one.plan, heard=time)


def _table(sheet: CueSheet, planned: list[Planned]) -> str:
    out = io.StringIO()
    table = csv.writer(out)
    table.writerow(_COLUMNS)
    for number, one in enumerate(planned, 1):
        rows = [*_rows(sheet, one, number), *_move_rows(sheet, one, number)]
        for row in sorted(rows, key=lambda row: float(str(row[0]))):
            table.writerow(row)
    return out.getvalue()


def _rows(sheet: CueSheet, one: Planned, number: int) -> Iterator[tuple[object, ...]]:
    """What is shown and said in one pass: a name in the row of its hit, a count in its own."""
    names = {line.cue: line for line in one.speech.lines if line.kind == "name"}
    counts = [line for line in one.speech.lines if line.kind == "count"]
    for time, cue_state, shown in _changes(sheet, one):
        pose = cue_state.next if shown != "hit" else cue_state.held
        line: SpokenLine | None = None
        if shown == "hit":
            line = names.get(pose.index) if pose else None
        else:
            onset = one.heard(time) - one.music
            line = next((c for c in counts if abs(c.onset - onset) < _SAME_BEAT), None)
        lost = shown == "hit" and pose in one.speech.unsaid
        said = line.text if line else _UNSAID if lost else ""
        at = f"{one.music + line.onset:.3f}" if line else ""
        position = cue_state.count_in or str(sheet.beatmap.position_at(time))
        row = (f"{one.heard(time):.3f}", number, position, pose.name if pose else "", shown)
        yield (*row, f"{time:.3f}", said, at, "pose")


def _move_rows(sheet: CueSheet, one: Planned, number: int) -> Iterator[tuple[str, ...]]:
    """Each move as it begins, each hit once more, and what is said there."""
    plan = one.plan
    moves = [(m.start, m.text, m.text, "move") for cue in sheet.cues for m in cue.moves]
    moves += [(m.start, m.text, m.text, "move") for m in sheet.exit]
    moves += [(time, cue.name, "again", "again") for cue in sheet.cues for time in cue.again]
    spoken = [line for line in one.speech.lines if line.kind == "move"]
    for time, name, shown, kind in moves:
        if not plan.start - 1e-6 <= time < plan.end:
            continue
        onset = one.heard(time) - one.music
        near = (ln for ln in spoken if abs(ln.onset - onset) < _SAME_BEAT)
        line = next(near, None) if kind == "move" else None
        position = str(sheet.beatmap.position_at(time))
        row = (f"{one.heard(time):.3f}", str(number), position, name, shown, f"{time:.3f}")
        at = f"{one.music + line.onset:.3f}" if line else ""
        yield (*row, line.text if line else "", at, kind)


def _changes(sheet: CueSheet, one: Planned) -> Iterator[tuple[float, CueState, str]]:
    """Each moment at which something else is shown: a count of the countdown, a hit."""
    plan, beatmap = one.plan, sheet.beatmap
    step = count_length(beatmap, plan.start)
    lead = [plan.start - k * step for k in range(plan.count_in, 0, -1)]
    for cue in _cues(sheet, plan):
        before = sheet.cues[cue.index - 1].hit if cue.index else -math.inf
        for time in [*lead, *_steps(sheet, cue, max(before, plan.start))]:
            if time < plan.start:
                cue_state = lead_in_state(sheet, plan, (time - plan.start) / plan.tempo)
            else:
                cue_state = sheet.at(time)
            yield time, cue_state, cue_state.numeral
        yield cue.hit, sheet.at(cue.hit), "hit"
        lead = []


def _steps(sheet: CueSheet, cue: Cue, first: float) -> list[float]:
    """The beats from `first` up to the hit, or its whole seconds in free time."""
    if sheet.beatmap.counts_between(first, cue.hit) is None:
        return [cue.hit - k for k in range(int(cue.hit - first), 0, -1)]
    return [t for t in sheet.beatmap.beats if first - 1e-9 <= t < cue.hit - 1e-6]

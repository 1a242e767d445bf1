"""The cue video for a phone or a television: the stage display with a cue track's sound.

What is shown follows from what is heard: frame k shows the moment in the middle of its thirtieth
of a second, so that a hit lights up within half a frame of its beat.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import CancelledError, Future, ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from threading import Event
from typing import NamedTuple, Protocol

from rehearse.cueing.cues import CueSheet
from rehearse.cueing.voice import SpeechEngine
from rehearse.handout.cue_plan import CuePlan
from rehearse.handout.cue_track import CueMix, CueSound, cue_mix, finished
from rehearse.handout.encode import Chapter
from rehearse.handout.formats import format_of
from rehearse.handout.handout_source import HandoutSource
from rehearse.handout.mp4_writer import RATE, Pixels, Rect, write_mp4
from rehearse.music.track import Track
from rehearse.practice.passplan import PassPlan
from rehearse.practice.scope import Scope
from rehearse.session.session_view import Coming, SessionView, lead_in_state, music_state
from rehearse.words import _
from rehearse.work.progress import Report, between

#: Width and height in pixels of each screen.
SCREENS = {"landscape": (1920, 1080), "upright": (1080, 1920)}
#: Part of the work that has to be done before the first frame.
_MIX = 0.1


@dataclass(frozen=True)
class VideoScene:
    """What a painter of the stage display needs to know.

    Args:
        width, height: pixels. folder: the routine's, with photos of own poses.
        steady: no flashes, as for who cannot bear them.
    """

    sheet: CueSheet
    track: Track
    folder: Path
    width: int
    height: int
    steady: bool = False


class FramePainter(Protocol):
    """Paints one frame after another; the room of the window provides it."""

    pixels: Pixels

    def paint(self, view: SessionView) -> Sequence[Rect]:
        """Bring `pixels` to `view`; returns what differs from the frame before."""


@dataclass(frozen=True)
class CueVideo:
    """What was written: the file, seconds, its chapters, and its sound's loudness in LUFS."""

    path: Path
    length: float
    chapters: tuple[Chapter, ...]
    loudness: float
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True)
class _Shown(PassPlan):
    """A pass at exactly the tempo its sound has."""

    speed: float = 1.0

    @property
    def tempo(self) -> float:
        """Share of the music's own tempo."""
        return self.speed


def write_cue_video(
    source: HandoutSource,
    track: Track,
    path: Path,
    plan: CuePlan,
    speech_engine: SpeechEngine | None,
    painter: Callable[[VideoScene], FramePainter],
    *,
    screen: str = "landscape",
    steady: bool = False,
    report: Report | None = None,
) -> CueVideo:
    """Make the sound of the cue track, paint every frame to it, write the mp4.

    Args:
        painter: makes the painter of the stage display for a scene.
        screen: key of `SCREENS`.
        report: told how far it is; may raise to stop, then nothing is written.

    Raises:
        UserError: as `write_cue_track`.
    """
    told = report or (lambda fraction, text: None)
    mix = cue_mix(
        *(source, track, plan, speech_engine),
        form=format_of("m4a"),
        cover=False,
        report=between(told, 0, 2 * _MIX),
    )
    scene = VideoScene(source.sheet, track, source.folder, *SCREENS[screen], steady)
    stage = painter(scene)
    timeline = FrameTimeline(source.sheet, mix)
    count = math.ceil(mix.length * RATE)

    def frames() -> Iterator[tuple[Pixels, Sequence[Rect]]]:
        return ((stage.pixels, stage.paint(timeline.view((k + 0.5) / RATE))) for k in range(count))

    with _finished_beside(mix) as sound:
        write_mp4(
            *(path, SCREENS[screen], frames, sound.data),
            count=count,
            title=mix.label.title,
            chapters=mix.label.chapters,
            report=between(told, _MIX, 1.0),
        )
    made = sound.made.result()
    told(1.0, _("painting the video"))
    return CueVideo(path, made.length, made.chapters, made.loudness.integrated, made.warnings)


class _Beside(NamedTuple):
    made: Future[CueSound]
    data: Future[bytes]


@contextmanager
def _finished_beside(mix: CueMix) -> Iterator[_Beside]:
    """The sound on a thread of its own: what is painted follows from what is mixed already."""
    stopped = Event()

    def go_on(fraction: float, text: str) -> None:
        if stopped.is_set():
            raise CancelledError

    with ThreadPoolExecutor(1, "sound") as beside:
        made = beside.submit(finished, mix, go_on)
        try:
            yield _Beside(made, beside.submit(lambda: made.result().data))
        except BaseException:
            stopped.set()
            raise


class FrameTimeline:
    """What is to be seen at each second of a cue track's sound."""

    def __init__(self, sheet: CueSheet, sound: CueMix | CueSound) -> None:
        self._sheet = sheet
        self._starts = sound.starts
        self._begins = [begin for begin, _unused in sound.starts]
        self._plans = tuple(_plans(sound))

    def view(self, time: float) -> SessionView:
        """The view at second `time` of the sound."""
        number = max(0, bisect_right(self._begins, time) - 1)
        plan, music = self._plans[number], self._starts[number][1]
        if time < music:
            moment = lead_in_state(self._sheet, plan, time - music)
            return SessionView("count-in", moment, plan, heard=plan.start, lead=music - time)
        heard = plan.start + (time - music) * plan.tempo
        following = self._following(number)
        if following is None or heard < plan.end:
            moment = music_state(self._sheet, plan, heard, following)
            return SessionView("music", moment, plan, heard=heard)
        left = self._begins[number + 1] - time
        coming = following.plan
        return SessionView("rest", self._sheet.ready(coming.start), coming, rest=left)

    def _following(self, number: int) -> Coming | None:
        if number + 1 >= len(self._plans):
            return None
        begin, music = self._starts[number + 1]
        plan = self._plans[number]
        over = self._starts[number][1] + (plan.end - plan.start) / plan.tempo
        return Coming(self._plans[number + 1], music - begin, rests=begin - over > 1 / RATE)


def _plans(sound: CueMix | CueSound) -> Iterator[_Shown]:
    for number, one in enumerate(sound.stretches, 1):
        scope = Scope("marks", "", one.key, one.start, one.end)
        yield _Shown(
            *("drill", scope, round(100 * one.tempo), one.choice.cueing),
            count_in=one.choice.counts,
            number=number,
            of=len(sound.stretches),
            speed=one.tempo,
        )

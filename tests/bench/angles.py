"""Visual angle of every text of the stage display at 3, 4 and 5 m; 1 when one is below 22′.

Measured where it is drawn: every text painted in every state of the display is written down with
the height of its capitals, on two usual screens (13 and 14 inches). The angle is that of
NUREG-0700 rev. 2, 1.3.1-4: height = 6.283 · distance · minutes / 21600; 22′ is the upper end of
what ISO 9241-3 prefers (from a copy of the standard). Own names without a short form are no part.
"""

from __future__ import annotations

import os
import sys
from collections import defaultdict
from dataclasses import replace
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from PySide6.QtCore import QSize
from PySide6.QtGui import QFontMetricsF, QImage, QPainter

from rehearse.cueing.cue_state import CueState
from rehearse.cueing.cues import CueSheet
from rehearse.music.position import Length
from rehearse.routine.folder import open_folder
from rehearse.routine.model import Move, Place, Side
from rehearse.routine.poses import load_catalogue
from rehearse.ui.stage import text_cache
from rehearse.ui.stage.paint import Stage
from rehearse.ui.stage.showing import STOPPED
from rehearse.ui.stage.stage_options import GLANCE, StageOptions, ViewingDistance
from rehearse.ui.stage.still import paint_memory, paint_still

ROOT = Path(__file__).resolve().parents[2]
SCREENS = ((1366, 768, 293.8), (1920, 1080, 309.4))
DISTANCES = (3.0, 4.0, 5.0)
#: Heights are rounded to whole pixels by the font.
SLACK = 0.1


class Written(QPainter):
    """A painter that writes down each text with the height of its capitals in pixels."""

    def __init__(self, device: object, found: dict[str, float]) -> None:
        super().__init__(device)
        self._found = found

    def drawText(self, *arguments: object) -> None:
        text = str(arguments[-1])
        cap = QFontMetricsF(self.font()).capHeight() * self.worldTransform().m22()
        self._found[text] = min(self._found.get(text, 1e9), cap)
        super().drawText(*arguments)


def routine_sheet(figure: str = "man") -> CueSheet:
    """The demo's routine with moves, an `again`, places and a way off, shown by a figure."""
    opened = open_folder(ROOT / "demo" / "copper-lights")
    beats, poses = opened.beatmap, list(opened.routine.poses)
    hit = beats.time_of(poses[4].hit)
    moves = (
        Move("m1", "reach across", Length(2), Side.RIGHT),
        Move("m2", "turn", Length(2), direction="left"),
    )
    again = (beats.position_at(beats.shift(hit, Length(2))),)
    poses[4] = replace(
        poses[4], moves=moves, transition=Length(6), again=again, place=Place.FRONT_LEFT
    )
    leaving = (Move("x1", "walk off", Length(4), direction="left"),)
    routine = replace(opened.routine, poses=tuple(poses), exit=leaving, figure=figure)
    return CueSheet.compile(routine, beats, load_catalogue().of(routine))


def states(sheet: CueSheet) -> dict[str, tuple[CueState, dict[str, object]]]:
    """Every state of the display: its moment and its options."""
    one, two, moving, last = sheet.cues[1], sheet.cues[3], sheet.cues[4], sheet.cues[-1]
    ready = sheet.ready(one.hit)
    return {
        "hit": (sheet.at(two.hit), {}),
        "held": (sheet.at(two.hit + 0.6), {"verdict": "clean"}),
        "transition": (sheet.at((two.start + two.hit) / 2), {}),
        "move": (sheet.at(moving.start + 0.3), {}),
        "after the moves": (sheet.at(moving.hit - 0.3), {}),
        "again": (sheet.at(moving.hit + 0.3), {}),
        "free time": (sheet.at(sheet.cues[-4].hit - 3), {}),
        "last pose": (sheet.at(last.hit + 0.3), {}),
        "way off": (sheet.at(last.end + 0.3), {}),
        "count-in": (sheet.before(two.hit, 3, 0.5), {"state": "count-in"}),
        "rest": (ready, {"state": "rest", "rest": 12.0, "verdict": "missed"}),
        "ready": (ready, {"state": "ready", "words": "Space begins"}),
        "paused": (sheet.at(two.hit - 1), {"state": "paused", "words": "Space goes on"}),
        "done": (ready, {"state": "done", "words": "Space begins again"}),
        "no sound": (
            sheet.at(two.hit - 1),
            {
                "state": "no sound",
                "words": "Space tries again, N goes on in silence",
                "cause": "the sound device is gone",
            },
        ),
        "stopped": (ready, {"state": "stopped", "words": STOPPED}),
        "question": (ready, {"state": "done", "question": "Where did you lose it?"}),
        "pointed": (ready, {"state": "done", "question": "Lost at 7?", "pointed": 6}),
        "from memory": (sheet.at(two.hit - 1), {"cueing": "memory"}),
        "names only": (sheet.at(two.hit + 0.5), {"cueing": "names"}),
        "counts only": (sheet.at(two.hit + 0.5), {"cueing": "counts"}),
        "mirror": (sheet.at((two.start + two.hit) / 2), {"mirrored": True}),
    }


def texts_of(
    sheet: CueSheet, cue_state: CueState, options: StageOptions, width: int, height: int
) -> dict[str, float]:
    """Each text painted and the height of its capitals in pixels."""
    found: dict[str, float] = {}
    stage = Stage(sheet, options, QSize(width, height))
    picture = QImage(width, height, QImage.Format.Format_RGB32)
    painter = Written(picture, found)
    look = stage.look(cue_state)
    layout = stage.layout
    if options.cueing == "memory":
        paint_memory(painter, layout, options)
    else:
        paint_still(painter, cue_state, layout, options, sheet.cues)
        counts = look.counted if layout.counts else ""
        for text, cap, box in (
            (counts, layout.cap, None),
            (look.numeral, layout.numeral.height, layout.numeral),
            (look.move[0], layout.cap, None),
        ):
            if text:
                wide = text_cache.DigitCache(cap, 1.0).width(text)
                scale = max(layout.cap / cap, min(1.0, box.width / wide)) if box else 1.0
                found[f"{text} (countdown)"] = cap * scale
    painter.end()
    return found


def main() -> int:
    """Measure and print; 1 when a text is smaller than 22′."""
    from rehearse.app import make_application

    application = make_application(["bench"])
    sheet = routine_sheet()
    small: list[str] = []
    for width, height, mm in SCREENS:
        print(f"{width}×{height}, {mm} mm wide: least angle of a text, in minutes of arc")
        rows: dict[str, dict[float, tuple[float, str]]] = defaultdict(dict)
        for distance in DISTANCES:
            viewing = ViewingDistance(distance, mm / width)
            for name, (cue_state, more) in states(sheet).items():
                options = StageOptions(viewing=viewing, passes="3/8", tempo=0.6, **more)  # type: ignore[arg-type]
                for text, cap in texts_of(sheet, cue_state, options, width, height).items():
                    angle = cap / viewing.pixels(1.0)
                    least = rows[name].get(distance, (1e9, ""))
                    rows[name][distance] = min(least, (angle, text))
                    if angle < GLANCE - SLACK:
                        small.append(
                            f"{width}×{height}, {distance} m, {name}: {text!r} {angle:.1f}′"
                        )
        for name, found in rows.items():
            told = "   ".join(f"{d:.0f} m {a:5.1f} {t[:24]:24}" for d, (a, t) in found.items())
            print(f"  {name:16}{told}")
    for line in small:
        print("TOO SMALL", line)
    del application
    return int(bool(small))


if __name__ == "__main__":
    sys.exit(main())

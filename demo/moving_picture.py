"""Makes the README's moving picture: the stage display through a few poses of the demo.

`.venv/bin/python demo/moving_picture.py` writes `demo/pictures/stage.gif`, painted by the program's
own stage display, a frame for each hundredth part of the time shown; it is a few seconds' work.
"""

from __future__ import annotations

import io
import sys
from collections.abc import Iterator
from pathlib import Path

from PIL import Image

from rehearse.files.atomic import save_atomic
from rehearse.handout.cue_video import VideoScene
from rehearse.handout.handout_source import load_source
from rehearse.practice.passplan import PassPlan
from rehearse.practice.scope import Scope
from rehearse.session.session_view import SessionView, lead_in_state, music_state
from rehearse.ui.stage.frames import StageFrames

ROOT = Path(__file__).resolve().parent.parent
OUT = ROOT / "demo" / "pictures" / "stage.gif"
#: Pixels it is painted in and shrunk to: the stage display is laid out for screens.
PAINTED, SHOWN = (1920, 1080), (800, 450)
#: Frames a second: the most that every viewer of GIFs shows alike is 1/0.05 s.
RATE = 20
#: Seconds of the demo's music shown, and the counts heard before.
START, END, COUNT_IN = 12.0, 21.0, 4
#: Colours of the one palette for all frames.
COLOURS = 64
#: The most it may weigh, in bytes.
MOST = 3_000_000


def views(sheet: object, start: float, end: float) -> Iterator[SessionView]:
    """What is to be seen, frame after frame: the count-in, then the music."""
    plan = PassPlan("drill", Scope("marks", "", "demo", start, end), 100, count_in=COUNT_IN)
    count = sheet.beatmap.time_of(sheet.beatmap.counts[1]) - sheet.beatmap.time_of(
        sheet.beatmap.counts[0]
    )
    lead = COUNT_IN * count
    for k in range(round((lead + end - start) * RATE)):
        time = (k + 0.5) / RATE - lead
        if time < 0:
            state = lead_in_state(sheet, plan, time)
            yield SessionView("count-in", state, plan, heard=start, lead=-time)
        else:
            state = music_state(sheet, plan, start + time, None)
            yield SessionView("music", state, plan, heard=start + time)


def frames(start: float, end: float) -> Iterator[Image.Image]:
    """The pictures, small."""
    source = load_source(ROOT / "demo" / "copper-lights")
    scene = VideoScene(source.sheet, source.song(), source.folder, *PAINTED)
    stage = StageFrames(scene)
    for view in views(source.sheet, start, end):
        stage.paint(view)
        blue, green, red = (Image.fromarray(stage.pixels[..., k]) for k in range(3))
        picture = Image.merge("RGB", (red, green, blue))
        yield picture.resize(SHOWN, Image.Resampling.LANCZOS)


def moving_picture(start: float = START, end: float = END) -> bytes:
    """The GIF."""
    painted = list(frames(start, end))
    # One palette, made of pictures of the whole: colours that change from frame to frame flicker.
    wide, high = SHOWN
    several = painted[:: max(1, len(painted) // 8)][:8]
    sample = Image.new("RGB", (wide, high * len(several)))
    for row, picture in enumerate(several):
        sample.paste(picture, (0, row * high))
    palette = sample.quantize(COLOURS, dither=Image.Dither.NONE)
    flat = [p.quantize(palette=palette, dither=Image.Dither.NONE) for p in painted]
    out = io.BytesIO()
    kept = {"save_all": True, "append_images": flat[1:], "loop": 0, "optimize": True}
    flat[0].save(out, "GIF", duration=1000 // RATE, **kept)
    return out.getvalue()


def main() -> int:
    """Write it; 1 where it is too heavy."""
    made = moving_picture()
    save_atomic(OUT, made)
    print(f"{OUT.relative_to(ROOT)}: {len(made) / 1e6:.2f} MB")
    return int(len(made) > MOST)


if __name__ == "__main__":
    sys.exit(main())

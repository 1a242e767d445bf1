"""A routine of 22 poses with moves of one's own, made by real keys and clicks on a real song.

Run: python -m tests.bench.invented SONG [--out FOLDER]. The song is mapped as `rehearse new` does
it, and needs 46 eights. On the Routine page of the real window a choreographer walks on from the
right, dances more than twelve moves on two levels and in three places, turns both ways, repeats a
phrase mirrored, hits poses again, and walks off: every step a key, a click or a typed word. Then
the routine is saved, opened again, rehearsed dry, printed, and its cue track measured: each name is
looked for in the written file by correlation, and the words that begin clearly by their spectral
flux, which shares nothing with the program's own measure. FOLDER keeps what is to be looked at:
`pictures.png`, the pictures of the dry run on one sheet, `sheet.pdf` and `cues.flac`.

It exits with 1 where the routine is not the one that was meant, a pose's name is left out, or a
name is more than 10 ms from where it belongs: a move's stressed syllable on its count, a pose's
name where its room is.
"""

from __future__ import annotations

import os

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import argparse
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from PySide6.QtGui import QImage, QPainter
from PySide6.QtWidgets import QApplication

from rehearse import cli
from rehearse.app import make_application
from rehearse.cueing.speech import SpokenLine
from rehearse.cueing.voice import SpeechEngine
from rehearse.handout.cue_plan import CuePlan
from rehearse.handout.cue_track import cue_sound
from rehearse.handout.formats import format_of
from rehearse.handout.handout_source import load_source
from rehearse.handout.sheet import make_sheet
from rehearse.music.apart import load_mapped
from rehearse.music.decode import load_track
from rehearse.music.track import Track
from rehearse.playback.offline_render import render
from rehearse.routine.checks import Severity
from rehearse.routine.folder import open_folder
from rehearse.routine.model import Level, Routine, Side
from rehearse.session.dry_run import dry_run
from rehearse.session.segment_builder import segment, speech_of
from rehearse.ui.settings import Settings
from rehearse.ui.stage.stage_png import StagePictures
from rehearse.ui.window import ROUTINE, Window
from rehearse.ui.workspace import Workspace
from tests.handout.test_cue_track import CLEAR, heard_onset
from tests.helpers.hands import Hands, K
from tests.helpers.heard import heard_at

#: Seconds by which a name may be beside where it belongs; seconds it is searched around.
NEAR, REACH = 0.010, 0.08
#: Poses wished for, moves of different names, and gestures for them all.
POSES, MOVES, GESTURES = 22, 12, 260
#: Pictures beside each other on the sheet, and how wide each is.
ACROSS, WIDE = 4, 480


def choreograph(hands: Hands) -> None:
    """The first half: on, a phrase to the right and to the left, and the same mirrored."""
    hands.pose("3:1", "kneeling victory")
    hands.moves("walk on r 8", "kneel down 2")
    hands.at("centre")
    hands.pose("5:1", "front double biceps")
    hands.moves("stand up 2", "reach up r 2", "open 2")
    hands.pose("7:1", "side chest right")
    hands.turned("right")
    hands.moves("gath 2", "sweep r 3")
    hands.at("right")
    hands.pose("9:1", "back double")
    hands.turned("left")
    hands.moves("circle l 4")
    hands.at("left")
    hands.again("9:3")
    hands.pose("11:1", "lunge reach left")
    hands.moves("look round l 2", "sink 2")
    hands.paste_mirrored(3, "15:1")
    hands.pose("13:1", "most muscular crab")
    hands.moves("drop 1", "rise 3")
    hands.pose("21:1", "front lat spread")
    hands.moves("unfold 4", "frame 2")
    hands.at("centre")


def finish(hands: Hands) -> None:
    """The second half, and off to the left."""
    hands.pose("23:1", "side triceps left")
    hands.turned("left")
    hands.moves("reach out l 2", "twist l 2")
    hands.pose("25:1", "vacuum")
    hands.moves("breathe 2", "hands over 2")
    hands.pose("27:1", "crucifix")
    hands.moves("close 2", "open 2")
    hands.pose("29:1", "archer left")
    hands.moves("lean l 2", "reach across l 2")
    hands.pose("31:1", "kneeling back double")
    hands.turned("right")
    hands.moves("turn r 2", "kneel 2")
    hands.pose("33:1", "abdominals")
    hands.moves("stand up 2", "arch 2")
    hands.again("33:3")
    hands.pose("35:1", "back lat spread")
    hands.turned("left")
    hands.moves("present an arm l 2", "pivot l 1")
    hands.at("right")
    hands.pose("37:1", "twisted back left")
    hands.moves("look up 1", "reach down l 2")
    hands.pose("39:1", "overhead reach right")
    hands.moves("bend 2", "unfold 3")
    hands.at("left")
    hands.pose("41:1", "single biceps left")
    hands.moves("salute l 2", "look down 1")
    hands.pose("43:1", "side lunge right")
    hands.moves("slide r 2")
    hands.pose("45:1", "victory")
    hands.moves("shake 2", "rise 3")
    hands.at("centre")
    hands.again("45:3")
    hands.press(K.Key_Escape)
    hands.click("45:6")
    hands.moves("bow 2", "walk off left 4")


def made_in_the_window(folder: Path) -> tuple[Routine, int, float]:
    """The routine as it was saved, the gestures, and seconds of computing for them."""
    workspace = Workspace(Settings(folder.parent / "settings.ini"))
    window = Window(workspace)
    window.resize(1366, 768)
    window.show()
    if not workspace.open(folder):
        raise SystemExit("The folder did not open.")
    until(lambda: workspace.track is not None)
    window.show_page(ROUTINE)
    window.activateWindow()
    until(window.isActiveWindow)
    hands = Hands(window.page, workspace)
    begun = time.thread_time()
    choreograph(hands)
    finish(hands)
    computed = time.thread_time() - begun
    levels = {window.page.timings.find(p.id).level for p in workspace.routine.poses}
    window.page.findings.look()
    for found in window.page.findings.findings:
        if found.severity is Severity.FAULT:
            print("check:", found)
    meant("two levels and more", {Level.STANDING, Level.KNEELING, Level.LUNGE} <= levels)
    meant("saved", workspace.save())
    made = workspace.routine
    workspace.close()
    window.close()
    return made, hands.gestures, computed


def until(condition: object, patience: float = 120.0) -> None:
    """Let the window work until it is so."""
    end = time.monotonic() + patience
    while not condition():
        if time.monotonic() > end:
            raise SystemExit("The window did not come that far.")
        QApplication.processEvents()
        time.sleep(0.01)


_MISSED: list[str] = []


def meant(words: str, so: bool) -> None:
    """Keep what is not as it was meant."""
    if not so:
        _MISSED.append(words)
        print("NOT as meant:", words)


def looked_through(made: Routine, folder: Path) -> None:
    """Whether it is the routine that was meant, also as it lies in its folder."""
    kinds = {m.move for p in made.poses for m in p.moves} | {m.move for m in made.exit}
    print(f"{len(made.poses)} poses, {len(kinds)} different moves: {', '.join(sorted(kinds))}")
    meant("22 poses on their counts", [str(p.hit) for p in made.poses] == [
        f"{k}:1" for k in range(3, 3 + 2 * POSES, 2)
    ])  # fmt: skip
    meant(f"{MOVES} different moves", len(kinds) >= MOVES)
    meant("a walk on from the right", made.poses[0].moves[0].direction == "right")
    meant("turns both ways", {p.turn for p in made.poses} >= {Side.LEFT, Side.RIGHT})
    places = {p.place for p in made.poses if p.place}
    meant("three places", places >= {"centre", "left", "right"})
    meant("hit again in two holds", sum(bool(p.again) for p in made.poses) >= 2)
    names = [p.pose for p in made.poses]
    meant("a phrase mirrored", names[6:9] == [
        "side chest left", "back double biceps", "lunge reach right"
    ])  # fmt: skip
    meant("a way off", [m.move for m in made.exit] == ["bow", "walk off"])
    meant("the same when opened again", open_folder(folder).routine == made)


def rehearsed(folder: Path, out: Path) -> None:
    """The dry run, and its pictures on one sheet."""
    result = dry_run(
        folder, out / "pictures", lambda context: StagePictures(context, folder=folder),
        speech_engine=SpeechEngine(),
    )  # fmt: skip
    print(result.words)
    meant("no name without room in the dry run", not result.unsaid)
    images = [QImage(str(path)).scaledToWidth(WIDE) for path in result.pictures]
    high = images[0].height()
    rows = -(-len(images) // ACROSS)
    sheet = QImage(ACROSS * WIDE, rows * high, QImage.Format.Format_RGB32)
    sheet.fill(0)
    with QPainter(sheet) as painter:
        for k, image in enumerate(images):
            painter.drawImage(k % ACROSS * WIDE, k // ACROSS * high, image)
    sheet.save(str(out / "pictures.png"))


def cue_track(folder: Path, out: Path) -> None:
    """Write it and find each name in it."""
    source, engine = load_source(folder), SpeechEngine()
    track = load_mapped(folder / source.routine.track, source.beatmap)
    made = cue_sound(source, track, CuePlan(), engine, form=format_of("flac"))
    path = out / "cues.flac"
    path.write_bytes(made.data)
    (stretch,), ((_, music),) = made.stretches, made.starts
    speech = speech_of(stretch, source.sheet, engine)
    begun = [m.start for c in source.sheet.cues for m in c.moves]
    starts = np.array(begun + [m.start for m in source.sheet.exit]) - stretch.start
    names = [line for line in speech.lines if line.kind == "name"]
    moves = [line for line in speech.lines if line.kind == "move"]
    # Where they belong: a pose's name in its room, a move's stressed syllable on its beginning.
    rooms = np.array([line.at for line in names])
    counts = np.array([starts[np.abs(starts - line.onset).argmin()] for line in moves])
    written = load_track(path)
    heard = [placed(written, engine, line, music) for line in names]
    told("names in the cue track", names, np.array(heard) - rooms)
    heard = [placed(written, engine, line, music) + line.onset - line.at for line in moves]
    told("moves in the cue track", moves, np.array(heard) - counts)
    silent = Track(np.zeros_like(track.samples), track.sample_rate, "silent")
    stem = render(silent, [segment(stretch, source.sheet, track.sample_rate, engine)])
    sound, music = stem.samples.mean(axis=1), stem.starts[0]
    clear = [(line, at) for line, at in zip(moves, counts, strict=True) if line.text in CLEAR]
    off = [heard_onset(sound, track.sample_rate, music + at) - music - at for _, at in clear]
    told("clear words by their spectral flux", [line for line, _ in clear], np.array(off))
    meant("no pose's name left out", not speech.unsaid and len(names) == len(source.sheet.cues))
    print(f"moves named: {len(moves)} of {len(starts)}, where names leave room")
    print(*made.warnings, sep="\n")


def placed(track: Track, engine: SpeechEngine, line: SpokenLine, music: float) -> float:
    """Seconds from the beginning of the music at which a line begins in a written file."""
    rate = track.sample_rate
    clip = engine.samples(line.text, "name", rate, line.pace)
    around = round((music + line.at) * rate)
    frame, _ = heard_at(track.samples.mean(axis=1), clip, around, round(REACH * rate))
    return frame / rate - music


def told(words: str, lines: list[SpokenLine], off: np.ndarray) -> None:
    """Print how far lines are from where they belong, in seconds."""
    print(f"{words}: {len(lines)}, off at most {1e3 * np.abs(off).max():.2f} ms")
    for line, far in zip(lines, off, strict=True):
        if abs(far) > NEAR:
            meant(f"{line.text} at {line.onset:.2f} s: {1e3 * far:+.1f} ms", False)


def main() -> int:
    """Make, look, measure; 1 where something is not as it was meant."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("song", type=Path, metavar="SONG")
    parser.add_argument("--out", type=Path, metavar="FOLDER")
    options = parser.parse_args()
    out = options.out or Path(tempfile.mkdtemp())
    out.mkdir(parents=True, exist_ok=True)
    app = make_application(["bench"])
    folder = out / "routine"
    if cli.main(["new", str(options.song), str(folder), "--rules", "open"]):
        return 1
    made, gestures, computed = made_in_the_window(folder)
    print(f"{gestures} gestures, {computed:.1f} s of computing for them")
    meant(f"at most {GESTURES} gestures", gestures <= GESTURES)
    looked_through(made, folder)
    rehearsed(folder, out)
    (out / "sheet.pdf").write_bytes(make_sheet(load_source(folder)).pdf)
    cue_track(folder, out)
    print(f"to be looked at: {out}")
    app.processEvents()
    return int(bool(_MISSED))


if __name__ == "__main__":
    sys.exit(main())

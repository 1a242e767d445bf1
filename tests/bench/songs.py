"""Every song below a folder becomes a routine, twice, and is checked, rehearsed and handed out.

python -m tests.bench.songs FOLDER [--pieces N] [--seed S] [--all] [--first K]

The first folder below FOLDER that a song lies in is its package. At least 30 pieces of at least
five packages are taken (all with --all; --first goes on with the K-th). Every second one is
converted first, by FFmpeg's own program: to m4a and variable-rate mp3 by turns, one of them to a
film with its sound, one to mono at 22.05 kHz, one to 96 kHz. Each becomes a routine in the window
and by `rehearse new`; the two are equal, open again equal, are checked, rehearsed dry for their
first 20 s, and give their stage music, whose length is measured by FFmpeg. Exit status 1 where
anything of it fails.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import itertools
import os
import random
import subprocess
import sys
import tempfile
import time
import traceback
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from rehearse.cli import main as command
from rehearse.music.mapfile import load_map
from rehearse.music.position import Length
from rehearse.routine import edits
from rehearse.routine.folder import OpenedFolder, open_folder, save_routine
from rehearse.routine.snapping import Snap, snap

PIECES, PACKAGES = 30, 5
ENDINGS = (".ogg", ".oga", ".opus", ".mp3", ".wav", ".flac", ".m4a")
#: Seconds rehearsed dry, and by how much the stage music may differ from its stated length: an
#: mp3 encoder's delay and padding where a player does not take them off.
REHEARSED, AGREE = 20.0, 0.06
#: Seconds the window may take for one song, on a busy machine.
PATIENCE = 600.0

CONVERTED: dict[str, tuple[str, list[str]]] = {
    "m4a": ("m4a", ["-vn", "-c:a", "aac", "-b:a", "128k"]),
    "vbr mp3": ("mp3", ["-vn", "-c:a", "libmp3lame", "-q:a", "5"]),
    "film": ("mp4", ["-c:v", "mpeg4", "-c:a", "aac", "-shortest"]),
    "22 kHz mono": ("wav", ["-vn", "-ar", "22050", "-ac", "1"]),
    "96 kHz": ("flac", ["-vn", "-ar", "96000"]),
}


def find(folder: Path) -> dict[str, list[Path]]:
    """Songs by package."""
    found: dict[str, list[Path]] = {}
    for path in sorted(folder.rglob("*")):
        if path.suffix.lower() in ENDINGS and path.is_file():
            found.setdefault(path.relative_to(folder).parts[0], []).append(path)
    return found


def choose(found: dict[str, list[Path]], pieces: int, seed: int) -> list[Path]:
    """So many pieces, the packages by turns."""
    rng = random.Random(seed)
    rows = [rng.sample(songs, len(songs)) for songs in found.values()]
    turns = itertools.chain.from_iterable(itertools.zip_longest(*rows))
    return [song for song in turns if song is not None][:pieces]


def conversions(count: int) -> Iterator[str]:
    """What each piece becomes; every second one stays as it is."""
    special = ["film", "22 kHz mono", "96 kHz"]
    kinds = itertools.cycle(("m4a", "vbr mp3"))
    for number in range(count):
        if number % 2:
            yield "as it is"
        elif number % 8 == 6 and special:
            yield special.pop(0)
        else:
            yield next(kinds)


def convert(song: Path, kind: str, into: Path) -> Path:
    """The piece in another format, in a folder of its own, under a name as people have them."""
    if kind == "as it is":
        return song
    ending, options = CONVERTED[kind]
    made = into / f"{song.stem}.{ending}"
    pictures = ["-f", "lavfi", "-i", "testsrc=s=160x90:r=5"] if kind == "film" else []
    ffmpeg("-i", song, *pictures, *options, made)
    return made


def ffmpeg(*arguments: object) -> None:
    """Run FFmpeg's program."""
    line = ["ffmpeg", "-v", "error", "-nostdin", "-y", *map(str, arguments)]
    subprocess.run(line, check=True, capture_output=True)


class Window:
    """The real window, off screen, as it makes a routine of a dropped song."""

    def __init__(self, place: Path) -> None:
        from rehearse.app import make_application
        from rehearse.ui.settings import Settings
        from rehearse.ui.window import Window as RealWindow
        from rehearse.ui.workspace import Workspace

        self.application = make_application(["songs"])
        settings = Settings(place / "settings.ini")
        settings.put("routines", str(place / "by window"))
        settings.put("silent", True)
        self.workspace = Workspace(settings)
        self.window = RealWindow(self.workspace)
        self.window.show()

    def make(self, song: Path) -> Path:
        """Drop the song, wait for its map, press Enter where it asks; the folder made."""
        self.window.new_routine(song)
        flow = self.window.page
        first = flow.goes_on
        self._until(
            lambda: (
                self.window.page is not flow
                or bool(self.window.error.text)
                or (flow.main.isEnabled() and not first)
            )
        )
        if self.window.page is flow:
            if not flow.main.isEnabled():
                raise AssertionError(f"the window says: {self.window.error.text}")
            flow.do_main()
        if self.workspace.folder is None or self.window.page is flow:
            raise AssertionError(f"the window says: {self.window.error.text}")
        assert self.workspace.track is not None
        assert not self.workspace.other_song
        return Path(self.workspace.folder)

    def _until(self, condition: Callable[[], bool]) -> None:
        end = time.monotonic() + PATIENCE
        while not condition():
            if time.monotonic() > end:
                raise AssertionError("the window was not done in time")
            self.application.processEvents()
            time.sleep(0.01)

    def close(self) -> None:
        """End it."""
        self.window.close()
        self.workspace.close()


def run(*arguments: object) -> str:
    """One command; its output. Raises where it fails."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        status = command([str(a) for a in arguments])
    if status:
        raise AssertionError(f"rehearse {arguments[0]}: {status}: {err.getvalue()}{out.getvalue()}")
    return out.getvalue()


def same_again(folder: Path) -> OpenedFolder:
    """Open the folder, save it, open it again: nothing changed, nothing was said."""
    opened = open_folder(folder)
    if opened.warnings:
        raise AssertionError(f"opened with a warning: {opened.warnings}")
    save_routine(folder, opened.routine, opened.beatmap)
    again = open_folder(folder)
    if (again.routine, again.beatmap, again.warnings) != (opened.routine, opened.beatmap, ()):
        raise AssertionError("opened again it is another one")
    return opened


def with_poses(opened: OpenedFolder) -> None:
    """Put poses on the first 20 s and make a section of them."""
    beatmap = opened.beatmap
    stage = opened.routine.stage
    end = min(REHEARSED, stage.end if stage else beatmap.duration)
    routine = replace(opened.routine, poses=(), sections=())
    hold, way = (Length(0.3, in_counts=False), Length(0.2, in_counts=False))
    for number, part in enumerate((0.25, 0.5, 0.75)):
        hit = snap(beatmap, part * end, Snap.QUARTERS)
        name = ("front double biceps", "side chest left", "vacuum")[number]
        try:
            routine = edits.place(routine, beatmap, name, hit, hold=hold, transition=way)
        except KeyError:
            routine = edits.place(routine, beatmap, "vacuum", hit, hold=hold, transition=way)
    first, last = (snap(beatmap, time, Snap.QUARTERS) for time in (0.0, end))
    routine = edits.add_section(routine, beatmap, "Beginning", first, last)
    save_routine(opened.folder, routine, beatmap)


def stage_music(folder: Path, out: Path) -> None:
    """Make the stage music; FFmpeg's program says how long it is."""
    made = Path(run("handout", folder, "--kind", "stage-music", "--out", out).splitlines()[0])
    opened = open_folder(folder)
    stage = opened.routine.stage
    wanted = stage.length if stage else opened.beatmap.duration
    ask = ["ffprobe", "-v", "error", "-show_entries", "format=duration", "-of", "csv=p=0", made]
    done = subprocess.run(list(map(str, ask)), check=True, capture_output=True, text=True)
    if abs(float(done.stdout) - wanted) > AGREE:
        raise AssertionError(f"the stage music lasts {done.stdout.strip()} s, not {wanted:.3f} s")


def through(song: Path, window: Window, place: Path) -> None:
    """All of it for one song."""
    by_window = window.make(song)
    by_command = place / "by command"
    run("new", song, by_command)
    one, other = same_again(by_window), same_again(by_command)
    if (one.routine.title, one.beatmap) != (other.routine.title, other.beatmap):
        raise AssertionError("the window and the command made different maps")
    if load_map(by_command / "beats.yaml").duration != window.workspace.track.duration:
        raise AssertionError("the map is not as long as its song")
    with_poses(other)
    with contextlib.suppress(AssertionError):
        run("check", by_command, "--json")  # 1: a fault was found, as poses put by chance have
    table = run("check", by_window)
    if "belongs to another song" in table:
        raise AssertionError(table)
    run("dry-run", by_command, "--section", "Beginning", "--out", place / "dry")
    if not list((place / "dry").glob("*.png")):
        raise AssertionError("the dry run shows no pose")
    (place / "out").mkdir()
    stage_music(by_command, place / "out")


def main() -> int:
    """Run it; the exit status."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--pieces", type=int, default=PIECES)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--all", action="store_true", help="every song there is")
    parser.add_argument("--first", type=int, default=1, help="the piece to go on with")
    options = parser.parse_args()
    found = find(options.folder)
    songs = choose(found, sys.maxsize if options.all else options.pieces, options.seed)
    packages = {song.relative_to(options.folder).parts[0] for song in songs}
    failed = 0
    with tempfile.TemporaryDirectory(prefix="songs-") as root:
        window = Window(Path(root))
        for number, (song, kind) in enumerate(zip(songs, conversions(len(songs)), strict=True), 1):
            if number < options.first:
                continue
            name = f"{song.relative_to(options.folder)} ({kind})"
            place, began = Path(root) / str(number), time.monotonic()
            place.mkdir()
            try:
                through(convert(song, kind, place), window, place)
                print(f"{number:3d} ok     {time.monotonic() - began:6.1f} s  {name}", flush=True)
            except Exception as error:
                failed += 1
                print(f"{number:3d} FAILED {time.monotonic() - began:6.1f} s  {name}: {error}")
                if not isinstance(error, AssertionError):
                    traceback.print_exc(file=sys.stdout)
                sys.stdout.flush()
        window.close()
    tried = len(songs) - options.first + 1
    enough = tried >= PIECES and len(packages) >= PACKAGES
    print(f"{tried - failed} of {tried} pieces of {len(packages)} packages all through")
    if not enough:
        print(f"Too few: {PIECES} pieces of {PACKAGES} packages are wanted.")
    return 1 if failed or not enough else 0


if __name__ == "__main__":
    sys.exit(main())

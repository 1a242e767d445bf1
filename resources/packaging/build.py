"""Makes one folder that runs without Python: `python resources/packaging/build.py OUT`.

In a virtual environment with the program and its extra `packaging` in it; PyInstaller does the
work. Prints the size of the folder and every part of it over 20 MB, and fails above 450 MB. A
folder runs on the system it was made on: Linux with the same or a newer C library, Windows, or a
Mac of the same kind.
"""

from __future__ import annotations

import argparse
import ctypes.util
import importlib.metadata
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
#: Megabytes (of 10⁶ bytes) the folder may have, and from which a part of it is named.
MOST, NAMED = 450, 20
#: Why a part is as large as it is.
REASONS = {
    "PySide6": "the window: Qt's libraries and platform plugins",
    "av": "FFmpeg: reads every song and film, writes films and m4a",
    "av.libs": "FFmpeg: reads every song and film, writes films and m4a",
    "scipy": "transforms and filters; librosa needs it",
    "scipy.libs": "linear algebra of scipy",
    "numpy": "arrays",
    "numpy.libs": "linear algebra of NumPy",
    "espeakng_loader": "the voice and its languages",
    "libpython3.11.so.1.0": "Python itself",
}
#: What the folder must be able to do: workers, beats, joins by librosa, voice, figures, sheet.
CHECKED = (
    ("--version",),
    ("beats", "routine/track.ogg"),
    ("cut", "routine", "--to", "60"),
    ("dry-run", "routine", "--section", "Back", "--tempo", "60", "--out", "dry"),
    ("handout", "routine", "--kind", "sheet", "--out", "."),
    ("handout", "routine", "--kind", "cue-track", "--section", "Back", "--out", "back.m4a"),
)
#: Imported by libraries for things the program does not do.
LEFT_OUT = (
    *("tkinter", "IPython", "matplotlib", "pytest", "hypothesis", "mypy", "torch", "pandas"),
    *("llvmlite", "sklearn", "setuptools", "pkg_resources", "pip"),
    *(
        "PySide6.QtQml",
        "PySide6.QtQuick",
        "PySide6.QtDesigner",
        "PySide6.QtTest",
        "PySide6.QtUiTools",
    ),
    *("PySide6.QtSql", "PySide6.QtHelp", "PySide6.QtOpenGL", "PySide6.QtOpenGLWidgets"),
)
#: Files that nothing here opens: Qt's other languages of tools, plugins for machines without a
#: desktop, and the one that would bring this machine's GTK along (file dialogs come by the portal).
UNUSED = (
    *("PySide6/Qt/translations/*", "PySide6/Qt/qml", "PySide6/Qt/plugins/egldeviceintegrations"),
    "PySide6/Qt/plugins/platformthemes/libqgtk3.so",
    *(
        f"PySide6/Qt/plugins/platforms/libq{name}.so"
        for name in ("eglfs", "linuxfb", "vkkhrdisplay", "minimalegl", "vnc")
    ),
    *("PySide6/Qt/lib/libQt6Egl*", "libgtk-3.so*", "libgdk-3.so*", "libgdk_pixbuf-2.0.so*"),
    # The system's ALSA and its plugins belong together: one from here would not load them.
    "libasound.so.2",
    *("libepoxy.so*", "libcairo*.so*", "libpango*.so*", "libatk*.so*", "libatspi.so*"),
)
#: Kept of those.
KEPT = ("qtbase_*",)
#: Built by hand on this machine, with what only a debugger reads in them.
STRIPPED = ("libpython3*.so*", "python3*/lib-dynload/*.so")


def main() -> int:
    """Build, tidy, weigh; 1 when it is too large."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("out", type=Path, help="the folder that `rehearse/` is made in")
    out: Path = parser.parse_args().out.resolve()
    with tempfile.TemporaryDirectory(prefix="rehearse-build-") as scratch:
        build(out, Path(scratch))
    folder = out / "rehearse"
    tidy(folder / "_internal")
    return weigh(folder) or check(folder)


def tidy(inner: Path) -> None:
    """Take out what is never opened, and strip what was not."""
    for pattern in UNUSED:
        for path in inner.glob(pattern):
            if path.is_dir() and not path.is_symlink():
                shutil.rmtree(path)
            elif not any(path.match(kept) for kept in KEPT):
                path.unlink()
    if sys.platform.startswith("linux") and shutil.which("strip"):
        for path in (p for pattern in STRIPPED for p in inner.glob(pattern)):
            subprocess.run(["strip", "--strip-unneeded", str(path)], check=True)


def check(folder: Path) -> int:
    """Let the folder do what needs most of its parts; 1 when it cannot."""
    program = folder / ("rehearse.exe" if sys.platform == "win32" else "rehearse")
    with tempfile.TemporaryDirectory(prefix="rehearse-check-") as place:
        shutil.copytree(ROOT / "demo" / "copper-lights", Path(place, "routine"))
        for command in CHECKED:
            done = subprocess.run(
                [str(program), *command], cwd=place, capture_output=True, text=True, check=False
            )
            print(f"rehearse {' '.join(command)}: {'done' if done.returncode == 0 else 'FAILED'}")
            if done.returncode:
                print(done.stdout[-1000:], done.stderr[-2000:])
                return 1
    return 0


def build(out: Path, scratch: Path) -> None:
    """Let PyInstaller make `out/rehearse`."""
    resources = scratch / "resources"
    keep_out = shutil.ignore_patterns("training", "packaging", "__pycache__")
    shutil.copytree(ROOT / "resources", resources, ignore=keep_out)
    command = [
        *(sys.executable, "-m", "PyInstaller", "--noconfirm", "--clean", "--onedir"),
        *("--name", "rehearse", "--distpath", str(out)),
        *("--workpath", str(scratch / "work"), "--specpath", str(scratch)),
        *("--paths", str(Path(__file__).with_name("standin")), "--paths", str(ROOT)),
        *("--collect-submodules", "rehearse"),
        *("--add-data", f"{resources}:rehearse/resources"),
        *("--add-data", f"{ROOT / 'demo' / 'copper-lights'}:rehearse/resources/demo"),
        *("--collect-all", "espeakng_loader"),
        # Versions and licences of the parts, which the window shows.
        *(option for name in libraries() for option in ("--copy-metadata", name)),
        *(option for name in LEFT_OUT for option in ("--exclude-module", name)),
        *_bundled(),
        *_icon(scratch),
    ]
    subprocess.run([*command, str(Path(__file__).with_name("start.py"))], check=True)


def libraries() -> tuple[str, ...]:
    """The libraries that the program names, as far as this system has them."""
    sys.path.insert(0, str(ROOT))
    from rehearse.files.components import LIBRARIES

    return tuple(name for name in LIBRARIES if _is_there(name))


def _is_there(name: str) -> bool:
    try:
        importlib.metadata.distribution(name)
    except importlib.metadata.PackageNotFoundError:
        return False
    return True


def _bundled() -> list[str]:
    """The sound library: on Linux the wheel has none, the system's goes along."""
    if not sys.platform.startswith("linux"):
        return []
    name = ctypes.util.find_library("portaudio")
    if name is None:
        sys.exit("libportaudio2 is not installed here: apt-get install libportaudio2")
    listed = subprocess.run(["/sbin/ldconfig", "-p"], capture_output=True, text=True, check=True)
    lines = [line for line in listed.stdout.splitlines() if line.split()[:1] == [name]]
    return ["--add-binary", f"{lines[0].rpartition(' => ')[2]}:."]


def _icon(scratch: Path) -> list[str]:
    """The icon of the file on Windows and on a Mac; Linux has it in the menu entry."""
    if sys.platform.startswith("linux"):
        return []
    from rehearse.ui.menu_entry import picture

    path = scratch / "rehearse.png"  # PyInstaller makes .ico or .icns of it, by Pillow
    picture(256).save(str(path))
    return ["--icon", str(path)]


def weigh(folder: Path) -> int:
    """Print what the folder weighs; 1 when it is over the limit."""
    whole = _megabytes(folder)
    print(f"{folder}: {whole:.0f} MB (at most {MOST})")
    inner = folder / "_internal"
    for part in sorted(inner.iterdir(), key=_megabytes, reverse=True):
        if (size := _megabytes(part)) > NAMED:
            print(f"  {size:4.0f} MB  {part.name}: {REASONS.get(part.name, 'not named yet')}")
    return 1 if whole > MOST else 0


def _megabytes(path: Path) -> float:
    files = [path] if path.is_file() else [p for p in path.rglob("*") if p.is_file()]
    return sum(p.stat().st_size for p in files if not p.is_symlink()) / 1e6


if __name__ == "__main__":
    sys.exit(main())

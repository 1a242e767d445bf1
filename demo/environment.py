"""Makes the project's `.venv` and system packages ready; standard library only.

Used by `demo/start.py` and `tests/run.py`, which must run on a bare machine. A stamp inside the
`.venv` remembers what was installed, so that later starts only compare it.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
PYTHON = VENV / ("Scripts/python.exe" if os.name == "nt" else "bin/python")

#: Debian packages that the window and the sound need.
WINDOW = [
    "libportaudio2", "libasound2-plugins", "libegl1", "libgl1", "libdbus-1-3", "libfontconfig1",
    "libxkbcommon-x11-0", "libxcb-cursor0", "libxcb-icccm4", "libxcb-image0", "libxcb-keysyms1",
    "libxcb-render-util0", "libxcb-shape0", "libxcb-xinerama0",
]  # fmt: skip
#: What the tests need besides: a sound server, a screen, and tools that open what was made.
TESTS = ["strace", "pulseaudio", "pulseaudio-utils", "xvfb", "xdotool", "ffmpeg", "poppler-utils"]
#: Left out where a machine has what they would put out: its own sound server.
YIELDING = {"pulseaudio": "pipewire-alsa"}


def prepare(extra: str = "", packages: tuple[str, ...] = ()) -> None:
    """Install what is missing, or end the process with the exact line to type.

    Args:
        extra: the extra of pyproject.toml to install ("tests"), or nothing.
        packages: Debian packages to have besides those of the window.
    """
    if sys.version_info < (3, 11):  # noqa: UP036 - the message is for whoever has an older one
        sys.exit("Rehearse needs Python 3.11 or later; start this with python3.11 or newer.")
    _system_packages([*WINDOW, *packages])
    stamp = VENV / f"ready-{extra or 'app'}"
    wanted = _fingerprint()
    if PYTHON.exists() and stamp.exists() and stamp.read_text() == wanted:
        return
    _virtual_environment(extra)
    stamp.write_text(wanted)


def _fingerprint() -> str:
    project = (ROOT / "pyproject.toml").read_bytes()
    return hashlib.sha256(project + sys.version.encode() + str(ROOT).encode()).hexdigest()


def _installed(package: str) -> bool:
    info = Path("/var/lib/dpkg/info")
    return (info / f"{package}.list").exists() or any(info.glob(f"{package}:*.list"))


def _really_installed(packages: list[str]) -> set[str]:
    # A removed package may leave its file list behind with its settings; only dpkg knows.
    command = ["dpkg-query", "-W", "-f", "${Package} ${db:Status-Status}\n", *packages]
    out = subprocess.run(command, capture_output=True, text=True, check=False).stdout
    return {line.split()[0] for line in out.splitlines() if line.endswith(" installed")}


def _system_packages(packages: list[str]) -> None:
    if not shutil.which("dpkg-query"):
        return  # not Debian: a missing library is named by the program that needs it
    try:
        import ensurepip  # noqa: F401
    except ImportError:
        packages = [*packages, f"python3.{sys.version_info.minor}-venv"]
    if all(_installed(p) for p in packages):
        have = set(packages) if _stamped() else _really_installed(packages)
    else:
        have = _really_installed(packages)
    missing = [p for p in packages if p not in have and not _in_the_way(p)]
    if not missing:
        return
    line = f"apt-get install -y --no-remove {' '.join(missing)}"
    if os.geteuid() == 0:
        prefix: list[str] = []
    elif (
        shutil.which("sudo") and subprocess.run(["sudo", "-n", "true"], check=False).returncode == 0
    ):
        prefix = ["sudo"]
    else:
        sys.exit(f"These system packages are missing. Type this, then start again:\n  sudo {line}")
    print(f"Installing system packages: {' '.join(missing)}", flush=True)
    quiet = {"env": {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}, "check": False}
    subprocess.run([*prefix, "apt-get", "update", "-qq"], **quiet)
    options = ["-y", "-qq", "--no-remove", "--no-install-recommends"]
    command = [*prefix, "apt-get", "install", *options, *missing]
    if subprocess.run(command, stdout=subprocess.DEVNULL, **quiet).returncode:
        sys.exit(f"The packages could not be installed. Type this to see why:\n  sudo {line}")


def _in_the_way(package: str) -> bool:
    """Whether installing a package would put out something this machine's owner uses."""
    other = YIELDING.get(package)
    if other is None or not _really_installed([other]):
        return False
    print(f"{package} is left out, because it replaces {other}: tests of sound are skipped.")
    return True


def _stamped() -> bool:
    return any(VENV.glob("ready-*"))


def _virtual_environment(extra: str) -> None:
    if not PYTHON.exists():
        print(f"Making {VENV}", flush=True)
        subprocess.run([sys.executable, "-m", "venv", str(VENV)], check=True)
    print("Installing what Rehearse needs (once, a few minutes)", flush=True)
    target = f"{ROOT}[{extra}]" if extra else str(ROOT)
    command = [str(PYTHON), "-m", "pip", "install", "--quiet", "--disable-pip-version-check"]
    if subprocess.run([*command, "--editable", target], check=False).returncode:
        sys.exit("Installing failed. Check the network connection, then start this again.")

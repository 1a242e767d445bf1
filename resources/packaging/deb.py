"""Makes a Debian package of the single folder: `python resources/packaging/deb.py OUT`.

`OUT/rehearse` is what `build.py` made there, and the package is put beside it. It needs `dpkg-deb`,
and the program in the environment, for the menu's entry and icons. The package runs on the Debian
it was built on and on newer ones; it has a Python and a Qt of its own and asks the system only for
what every desktop has.
"""

from __future__ import annotations

import argparse
import os
import re
import shutil
import subprocess
import sys
import tempfile
from importlib.metadata import version
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
#: Libraries of the system that the folder loads, and what is heard through.
DEPENDS = ("libgcc-s1", "zlib1g", "libxcb1", "libgl1", "libegl1")
RECOMMENDS = "libasound2 | libasound2t64"
CONTROL = """\
Package: rehearse
Version: {version}
Architecture: {architecture}
Maintainer: Rehearse <nobody@example.org>
Installed-Size: {size}
Depends: libc6 (>= {libc}), {depends}
Recommends: {recommends}
Section: sound
Priority: optional
Description: Rehearse a posing routine to music, with live cues
 Finds the counts of a song, puts poses on them, loops and slows the music
 without changing its pitch, calls each pose before its hit and keeps a logbook.
"""
COPYRIGHT = """\
Rehearse is free software: GPL-3.0-or-later, see /usr/share/common-licenses/GPL-3.
What is bundled, and under which licence: /usr/lib/rehearse/_internal/rehearse/resources/licences/
"""


def main() -> int:
    """Lay the files out and pack them."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("out", type=Path, help="the folder that `rehearse/` was made in")
    out: Path = parser.parse_args().out.resolve()
    if not (out / "rehearse" / "rehearse").is_file():
        print(f"{out} has no rehearse/rehearse: build it first with build.py", file=sys.stderr)
        return 2
    # On the same disk, so that nothing has to be copied.
    with tempfile.TemporaryDirectory(prefix="deb-", dir=out) as scratch:
        place = Path(scratch)
        place.chmod(0o755)
        lay_out(out / "rehearse", place)
        print(pack(place, out))
    return 0


def lay_out(folder: Path, place: Path) -> None:
    """The folder, the command, the menu's files, and what the package says of itself."""
    shutil.copytree(folder, place / "usr/lib/rehearse", symlinks=True, copy_function=os.link)
    command = place / "usr/bin/rehearse"
    command.parent.mkdir(parents=True)
    command.symlink_to("../lib/rehearse/rehearse")
    sys.path.insert(0, str(ROOT))
    from rehearse.ui.menu_entry import menu_files

    for path, content in menu_files(place / "usr/share", ("rehearse",)):
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
    told = place / "usr/share/doc/rehearse/copyright"
    told.parent.mkdir(parents=True)
    told.write_text(COPYRIGHT, encoding="utf-8")
    control = place / "DEBIAN/control"
    control.parent.mkdir()
    control.write_text(_control(place), encoding="utf-8")


def _control(place: Path) -> str:
    files = [p for p in place.rglob("*") if p.is_file() and not p.is_symlink()]
    return CONTROL.format(
        version=version("rehearse"),
        architecture=_told("dpkg", "--print-architecture"),
        size=sum(p.stat().st_size for p in files) // 1024,
        # Of the machine it is built on: an older C library lacks what is called here.
        libc=re.sub(r"[^\d.].*", "", os.confstr("CS_GNU_LIBC_VERSION").split()[-1]),
        depends=", ".join(DEPENDS),
        recommends=RECOMMENDS,
    )


def pack(place: Path, out: Path) -> Path:
    """The package, all files owned by root."""
    control = (place / "DEBIAN/control").read_text(encoding="utf-8")
    fields = dict(line.split(": ", 1) for line in control.splitlines() if ": " in line)
    name = "{Package}_{Version}_{Architecture}.deb".format(**fields)
    command = ("dpkg-deb", "--root-owner-group", "-Zxz", "-z3", "--build", str(place))
    subprocess.run([*command, str(out / name)], check=True, stdout=subprocess.DEVNULL)
    return out / name


def _told(*command: str) -> str:
    return subprocess.run(command, check=True, capture_output=True, text=True).stdout.strip()


if __name__ == "__main__":
    sys.exit(main())

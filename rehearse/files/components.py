"""What the program is made of: every bundled part and library, its version, its licence.

Libraries and their licence texts are read from what was installed with them; what lies among the
resources, and what is built into a library, from `resources/licences/NOTICES.md`.
"""

from __future__ import annotations

import importlib.metadata
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from rehearse import __version__
from rehearse.files.locations import resource
from rehearse.words import _

#: Of what the program imports itself; the rest follows from what these require.
LIBRARIES = (
    *("PySide6-Essentials", "av", "espeakng-loader", "librosa", "numpy", "pillow"),
    *("platformdirs", "pulsectl", "pypdfium2", "python-stretch", "pyyaml", "reportlab", "scipy"),
    *("sounddevice", "soundfile", "soxr"),
)
_ROW = re.compile(r"^\| (.+?) \| (.+?) \|$", re.MULTILINE)
_TEXTS = re.compile(r"licen[cs]e|copying|notice", re.IGNORECASE)
_QUOTED = re.compile(r"`([^`]+\.(?:txt|md))`")
#: Letters of a licence's name at most: some packages put the whole text there.
_SHORT = 60


@dataclass(frozen=True)
class Component:
    """One part: its name, version (may be empty) and licence, and the files of the licence."""

    name: str
    version: str
    licence: str
    texts: tuple[Path, ...] = ()

    @property
    def text(self) -> str:
        """The licence's own text, as far as it came with the part."""
        found = [p.read_text("utf-8", "replace").strip() for p in self.texts if p.is_file()]
        return "\n\n".join(found) or _(
            "{licence}\n\nIts text did not come with the part.", licence=self.licence
        )


def components() -> tuple[Component, ...]:
    """The program, what is bundled with it, then the libraries by name."""
    own = Component(
        "Rehearse", __version__, "GPL-3.0-or-later", (resource("licences/GPL-3.0.txt"),)
    )
    return (own, *_bundled(), *_libraries())


def _bundled() -> Iterator[Component]:
    """The rows of the notices."""
    notices = resource("licences/NOTICES.md").read_text(encoding="utf-8")
    for what, licence in _ROW.findall(notices):
        if what in ("what", "---"):
            continue
        texts = tuple(resource(name) for name in _QUOTED.findall(licence))
        words = _QUOTED.sub("", licence).replace("`", "").strip(" ,")
        yield Component(what.replace("`", ""), "", words, texts)


def _libraries() -> Iterator[Component]:
    found: dict[str, Component] = {}
    wanted = list(LIBRARIES)
    while wanted:
        name = wanted.pop()
        key = re.sub(r"[-_.]+", "-", name).lower()
        if key in found:
            continue
        try:
            one = importlib.metadata.distribution(name)
        except importlib.metadata.PackageNotFoundError:
            continue  # of another system or version of Python
        found[key] = Component(one.name, one.version, _licence(one), _texts(one))
        needs = (need for need in one.requires or () if "extra ==" not in need)
        wanted += [match[0] for need in needs if (match := re.match(r"[\w.-]+", need))]
    yield from (found[key] for key in sorted(found))


def _licence(one: importlib.metadata.Distribution) -> str:
    """The licence's name: as an expression, in a word, or by its class."""
    meta = one.metadata
    lines = (*(meta.get_all("License-Expression") or ()), *(meta.get_all("License") or ()))
    told = next((line.strip().split("\n")[0] for line in lines if line.strip()), "")
    if told and len(told) <= _SHORT:
        return told
    classes = [c for c in meta.get_all("Classifier") or () if c.startswith("License")]
    return classes[0].split("::")[-1].strip() if classes else _("see its own notices")


def _texts(one: importlib.metadata.Distribution) -> tuple[Path, ...]:
    beside = (f for f in one.files or () if ".dist-info/" in str(f))
    files = [f for f in beside if _TEXTS.search(str(f).split(".dist-info/")[1])]
    return tuple(Path(str(f.locate())) for f in files if f.suffix not in (".py", ".pyc"))

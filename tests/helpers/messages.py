"""The texts of the program for translators: found in the source, compared with a catalogue.

`python -m tests.helpers.messages de` puts what is new into `resources/languages/de.po`, empty, and
takes out what is gone; `--check` only lists both. A new language begins with an empty file of that
name.

Texts are literals in `_()` and `ngettext()`, and the words and tips in the table of actions. Names
that are stored in English (context "name") come from the data: poses, moves, rule sets, cautions,
and the lists below.
"""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import yaml

from rehearse.words import NAME, TextCatalogue
from tests.helpers.plain_texts import parsed

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "rehearse"
CATALOGUES = ROOT / "resources" / "languages"
_WIDE = 88

Key = tuple[str, str]
"""Context and English text."""


@dataclass
class Message:
    """One text: its plural in English, if it has one, and where it is."""

    plural: str = ""
    places: list[str] = field(default_factory=list)


def of_source(path: Path) -> Iterator[tuple[str, str, int]]:
    """Text, plural and line of every literal that is looked up in a file."""
    table = path.name == "actions.py"
    for node in ast.walk(parsed(path)):
        if not isinstance(node, ast.Call):
            continue
        name = getattr(node.func, "id", "")
        if name == "_" and node.args and isinstance(node.args[0], ast.Constant):
            yield str(node.args[0].value), "", node.lineno
        elif name == "ngettext" and all(isinstance(a, ast.Constant) for a in node.args[:2]):
            one, many = (str(a.value) for a in node.args[:2] if isinstance(a, ast.Constant))
            yield one, many, node.lineno
        elif table and (name.startswith("_") or isinstance(node.func, ast.Call)):
            yield from _of_action(node)


def _of_action(call: ast.Call) -> Iterator[tuple[str, str, int]]:
    texts = [*call.args[1:2], *(k.value for k in call.keywords if k.arg == "tip")]
    for text in texts:
        if isinstance(text, ast.Constant) and isinstance(text.value, str):
            yield text.value, "", text.lineno


def of_data() -> Iterator[tuple[str, str]]:
    """Names stored in English, and where each comes from."""
    resources = ROOT / "resources"
    for entry in _yaml(resources / "poses.yaml")["poses"]:
        yield from ((entry[k], "poses.yaml") for k in ("name", "say") if entry.get(k))
    for entry in _yaml(resources / "moves.yaml")["moves"]:
        words = (entry["name"], entry.get("say"), *entry.get("directions", ()))
        yield from ((word, "moves.yaml") for word in words if word)
    for entry in _yaml(resources / "cautions.yaml")["cautions"]:
        yield from ((entry[k], "cautions.yaml") for k in ("text", "source"))
    for path in sorted((resources / "rules").glob("*.yaml")):
        yield from ((text, f"rules/{path.name}") for text in _of_rules(_yaml(path)))
    yield from ((text, "lists") for text in _lists())


def _of_rules(rules: dict) -> Iterator[str]:
    for name in ("event", "source", "note"):
        if rules.get(name):
            yield rules[name]
    if rules.get("body") == "none":
        yield rules["name"]
    yield from rules.get("remember", ())
    yield from rules.get("unconfirmed", ())
    for item in rules.get("forbidden", ()):
        yield from (item[k] for k in ("what", "why") if item.get(k))


def _yaml(path: Path) -> dict:
    return yaml.safe_load(path.read_text("utf-8"))


def _lists() -> Iterator[str]:
    from rehearse.cueing import texts
    from rehearse.cueing.cue_options import VolumeStep
    from rehearse.cueing.voice import VOICES
    from rehearse.film import offsets
    from rehearse.handout.naming import FIELDS
    from rehearse.music import mapfile
    from rehearse.practice import export, planline
    from rehearse.routine import model, poses, rounds, snapping, versions
    from rehearse.ui import key_list

    for kind in (model.Facing, model.Side, model.Place, model.Level, snapping.Snap, VolumeStep):
        yield from (member.value for member in kind)
    yield from (*model.FIGURES, *model.DRESSES, *model.SKINS, *texts._LEVELS.values())
    yield from (voice.key for voice in VOICES)
    yield from mapfile._COLUMNS.values()
    yield from (*(why.value for why in offsets.Unread), *FIELDS, *poses.GROUPS)
    yield from (*export.HEADINGS, *export.ROUND_HEADINGS, *export.CUE_WORDS.values())
    yield from (rounds.RELAX, *rounds._TURN_WORDS.values(), *rounds._SIDE_WORDS.values())
    yield from (text for pair in rounds.PLACES.items() for text in pair)
    yield from (" ".join(w.split(" to the ")) for w in rounds._TURN_WORDS.values())
    yield from (" ".join(w.split(" to the ")) for w in rounds._SIDE_WORDS.values())
    yield from (*key_list.CLICKER_TABLE, *_KEYS, *_KINDS, planline.COMMON, versions.COPIED)
    yield from _OTHERS


_KEYS = ("Ctrl", "Shift", "Alt", "Space", "Enter", "Esc", "Del", "Backspace", "Home", "End")
_KEYS += ("Page Up", "Page Down", "Tab")
#: Kinds of findings, states of remarks, verdicts, efforts, what is drilled.
_KINDS = ("aside", "moves", "move", "distance", "nothing to do", "again", "way off", "accent")
_KINDS += ("off the beat", "name", "required", "mandatory", "men only", "open hands", "forbidden")
_KINDS += ("repeat", "balance", "length", "time left", "outside", "overlap", "hold", "transition")
_KINDS += ("gap", "song", "new", "taken", "answered", "set aside", "full out", "marked", "clean")
_KINDS += ("missed", "on", "early", "late", "slow", "unread", "own pose", "own move", "pose")
_OTHERS = ("whole routine", "walk-on", "marked stretch", "side", "by another program")
_OTHERS += ("before another program's", "yes", "broken off", "dry run")


def messages() -> dict[Key, Message]:
    """Every text of the program, in the order of files and lines, then the names."""
    found: dict[Key, Message] = {}
    for path in sorted(PACKAGE.rglob("*.py")):
        for text, plural, line in of_source(path):
            if text:
                message = found.setdefault(("", text), Message())
                if plural and message.plural not in ("", plural):
                    raise ValueError(f"{path.name}:{line}: {text!r} has another plural elsewhere")
                message.plural = message.plural or plural
                place = path.relative_to(ROOT).as_posix()
                if place not in message.places:
                    message.places.append(place)
    for name, place in of_data():
        message = found.setdefault((NAME, str(name)), Message())
        if place not in message.places:
            message.places.append(place)
    return found


def key_of(key: str) -> Key:
    """Context and text of a catalogue's key."""
    context, _mark, text = key.rpartition("\x04")
    return context, text


def written(found: dict[Key, Message], catalogue: TextCatalogue, head: str) -> str:
    """A PO file with these messages and what the catalogue has of them."""
    entries = [head.rstrip()]
    for (context, text), message in found.items():
        lines = [f"#: {' '.join(message.places[:3])}"]
        if context:
            lines.append(f"msgctxt {_quoted(context)}")
        lines.append(f"msgid {_quoted(text)}")
        forms = catalogue.messages.get(f"{context}\x04{text}" if context else text, ())
        if message.plural:
            lines.append(f"msgid_plural {_quoted(message.plural)}")
            forms = forms or ("", "")
            lines += [f"msgstr[{k}] {_quoted(form)}" for k, form in enumerate(forms)]
        else:
            lines.append(f"msgstr {_quoted(forms[0] if forms else '')}")
        entries.append("\n".join(lines))
    return "\n\n".join(entries) + "\n"


def _quoted(text: str) -> str:
    plain = text.replace("\\", "\\\\").replace('"', '\\"').replace("\t", "\\t")
    lines = plain.replace("\n", "\\n\n").split("\n")
    if len(lines) == 1 or (len(lines) == 2 and not lines[1]):
        return f'"{"".join(lines)}"'
    return "\n".join(['""', *(f'"{line}"' for line in lines if line)])


def main(arguments: list[str]) -> int:
    """Bring a catalogue up to date, or list what it lacks."""
    path = CATALOGUES / f"{arguments[0]}.po"
    text = path.read_text("utf-8")
    head = text.partition("\n\n#:")[0]
    catalogue, found = TextCatalogue(path), messages()
    there = {key_of(key) for key in catalogue.messages}
    lacking, gone = [k for k in found if k not in there], sorted(there - found.keys())
    for context, message in lacking:
        print("lacks", context, repr(message))
    for context, message in gone:
        print("gone", context, repr(message))
    if "--check" not in arguments:
        path.write_text(written(found, catalogue, head), "utf-8")
    return 1 if lacking or gone else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

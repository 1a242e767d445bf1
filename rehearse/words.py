"""Every text that people read, in the language of this process.

`_("text")` and `ngettext("one", "many", number)` look a text up; values are given by name and put
in as `str.format` does, numbers with the language's own decimal sign. English is the language of
the source and needs no catalogue; the others are `resources/languages/<code>.po`, read once when
the program starts: 2,500 messages take about 10 ms, and nothing has to be compiled.

The language is settled when this module is imported, so that constants of modules may be wrapped,
too: `--language`, the variable REHEARSE_LANGUAGE, the setting, the system's language, English.
Worker processes inherit it by the variable. Tests run in English.

What is stored or compared – names of poses and moves, facings, verdicts, kinds – is English in
every language. `shown` gives such a name as it is read, spoken or printed.

Conventions: a language is its two or three letters ("de").
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterable, Mapping
from datetime import date, datetime
from functools import cache
from pathlib import Path

VARIABLE = "REHEARSE_LANGUAGE"
SOURCE = "en"
#: Between a message and its context in a catalogue's keys, as in compiled catalogues of gettext.
_CONTEXT = "\x04"
#: Context of the names that are stored in English.
NAME = "name"

_ESCAPES = {"n": "\n", "t": "\t", '"': '"', "\\": "\\"}
_PLURALS: dict[str, Callable[[int], int]] = {
    "(n != 1)": lambda n: int(n != 1),
    "(n > 1)": lambda n: int(n > 1),
    "0": lambda n: 0,
}


class TextCatalogue:
    """The messages of one PO file; what is marked fuzzy or left empty is not in it.

    Args:
        path: the file, UTF-8.

    Raises:
        OSError, ValueError: it cannot be read.
    """

    def __init__(self, path: Path) -> None:
        self.messages: dict[str, tuple[str, ...]] = {}
        self._read(path.read_text("utf-8"))
        header = self.messages.pop("", ("",))[0]
        lines = (line.partition(":") for line in header.splitlines())
        self.header = {name.strip(): value.strip() for name, _colon, value in lines}

    @property
    def plural(self) -> Callable[[int], int]:
        """Which of its plural forms a number takes."""
        rule = self.header.get("Plural-Forms", "").partition("plural=")[2].strip(" ;")
        if rule in _PLURALS:
            return _PLURALS[rule]
        from gettext import c2py

        return c2py(rule or "(n != 1)")

    def _read(self, text: str) -> None:
        entry: dict[str, str] = {}
        field, fuzzy = "", False
        for line in [*text.splitlines(), ""]:
            if line.startswith('"'):
                entry[field] += _plain(line)
            elif line.startswith("msg"):
                field, _space, rest = line.partition(" ")
                entry[field] = _plain(rest)
            elif line.startswith("#,"):
                fuzzy = "fuzzy" in line
            elif not line.strip() and entry:
                if not fuzzy:
                    self._keep(entry)
                entry, fuzzy = {}, False

    def _keep(self, entry: Mapping[str, str]) -> None:
        forms = tuple(text for field, text in entry.items() if field.startswith("msgstr"))
        if all(forms):
            context = f"{entry['msgctxt']}{_CONTEXT}" if "msgctxt" in entry else ""
            self.messages[context + entry["msgid"]] = forms


def _plain(quoted: str) -> str:
    text = quoted.strip()[1:-1]
    if "\\" not in text:
        return text
    parts = iter(text.split("\\"))
    plain = next(parts)
    for part in parts:
        # Two backslashes leave an empty part between them.
        plain += _ESCAPES.get(part[0], part[0]) + part[1:] if part else "\\" + next(parts, "")
    return plain


def folder() -> Path:
    """Where the catalogues lie: beside the package in a checkout, inside it in a wheel."""
    package = Path(__file__).resolve().parent
    inside = package / "resources" / "languages"
    return inside if inside.is_dir() else package.parent / "resources" / "languages"


def languages() -> dict[str, str]:
    """The languages offered, each with its own name for itself; English first."""
    offered = {SOURCE: "English"}
    for path in sorted(folder().glob("*.po")):
        header = TextCatalogue(path).header
        if header.get("X-Offered", "yes") == "yes":
            offered[path.stem] = header.get("X-Language-Name", path.stem)
    return offered


def _is_there(code: str) -> bool:
    return code == SOURCE or (code.isalpha() and (folder() / f"{code}.po").is_file())


def _is_offered(code: str) -> bool:
    # Only the head is looked at: this runs at every start.
    if code == SOURCE:
        return True
    with (folder() / f"{code}.po").open(encoding="utf-8") as file:
        return "X-Offered: no" not in file.read(4000)


def _asked_for() -> str:
    """The language after `--language` on this program's own command line."""
    if Path(sys.argv[0]).stem not in ("rehearse", "__main__") if sys.argv else True:
        return ""
    given = sys.argv[1:]
    for argument, following in zip(given, [*given[1:], ""][: len(given)], strict=True):
        if argument == "--language":
            return following
        if argument.startswith("--language="):
            return argument.partition("=")[2]
    return ""


def settings_file() -> Path:
    """Where the window keeps its settings (see `ui.settings`), found without Qt."""
    home = Path.home()
    if sys.platform == "win32":
        place = Path(os.environ.get("LOCALAPPDATA") or home / "AppData" / "Local")
    elif sys.platform == "darwin":
        place = home / "Library" / "Preferences"
    else:
        place = Path(os.environ.get("XDG_CONFIG_HOME") or home / ".config")
    return place / "rehearse" / "settings.ini"


def _set_before() -> str:
    try:
        lines = settings_file().read_text("utf-8", "replace").splitlines()
    except (OSError, RuntimeError):
        return ""
    return next((x.partition("=")[2].strip() for x in lines if x.startswith("language=")), "")


def _of_system() -> list[str]:
    """The system's languages, the first wish first."""
    if sys.platform == "win32":
        import ctypes
        import locale

        number = ctypes.windll.kernel32.GetUserDefaultUILanguage()
        wishes = [locale.windows_locale.get(number, "")]
    elif sys.platform == "darwin":
        import plistlib

        path = Path.home() / "Library" / "Preferences" / ".GlobalPreferences.plist"
        try:
            wishes = list(map(str, plistlib.loads(path.read_bytes()).get("AppleLanguages", [])))
        except (OSError, ValueError, AttributeError):
            wishes = []
    else:
        names = ("LC_ALL", "LC_MESSAGES", "LANG")
        system = next(filter(None, map(os.environ.get, names)), "")
        plain = system.partition(".")[0] in ("", "C", "POSIX")
        wishes = [] if plain else [*os.environ.get("LANGUAGE", "").split(":"), system]
    return [wish[:2].lower() for wish in wishes if wish]


def _settle() -> str:
    for wish in (_asked_for(), os.environ.get(VARIABLE, ""), _set_before()):
        if wish and _is_there(wish):
            return wish
    for wish in _of_system():
        if _is_there(wish):
            return wish if _is_offered(wish) else SOURCE
    return SOURCE


def _load(code: str) -> tuple[TextCatalogue | None, str]:
    if code == SOURCE:
        return None, code
    try:
        return TextCatalogue(folder() / f"{code}.po"), code
    except (OSError, ValueError):  # a broken installation is met in English
        return None, SOURCE


_catalogue, LANGUAGE = _load(_settle())
# Worker processes take over what was settled here.
os.environ[VARIABLE] = LANGUAGE
_messages = _catalogue.messages if _catalogue else {}
_plural = _catalogue.plural if _catalogue else _PLURALS["(n != 1)"]
#: What stands before the fraction of a number.
DECIMAL = _catalogue.header.get("X-Decimal-Sign", ".") if _catalogue else "."
RIGHT_TO_LEFT = _catalogue is not None and _catalogue.header.get("X-Direction") == "rtl"


class _Local(float):
    """A number that is written with the language's decimal sign."""

    def __format__(self, spec: str) -> str:
        return _signed(super().__format__(spec))


class _LocalWhole(int):
    def __format__(self, spec: str) -> str:
        return _signed(super().__format__(spec))


def _signed(text: str) -> str:
    return text.translate({46: DECIMAL, 44: "." if DECIMAL == "," else ","})


def _local(value: object) -> object:
    if isinstance(value, float):
        return _Local(value)
    if isinstance(value, str):  # a facing, a level, a side: stored in English
        return value if type(value) is str else shown(value)
    if type(value) is int:
        return _LocalWhole(value)
    return getattr(value, "in_words", value)


def _filled(text: str, values: Mapping[str, object]) -> str:
    if not values:
        return text
    if _catalogue is None:
        return text.format(**values)
    return text.format(**{name: _local(value) for name, value in values.items()})


def _(message: str, /, **values: object) -> str:
    """A text in the process's language, with `values` in the places named after them."""
    found = _messages.get(message)
    return _filled(found[0] if found else message, values)


def ngettext(one: str, many: str, number: float, /, **values: object) -> str:
    """`one` or `many` as the language says for `number`, with `values` in it."""
    found = _messages.get(one)
    if found is None:
        return _filled(one if number == 1 else many, values)
    # No language has a form of its own for a part of one: 0.5 counts as 2 do.
    whole = int(number) if number == int(number) else 2
    return _filled(found[min(_plural(whole), len(found) - 1)], values)


#: What is put behind a section's name where its poses are mirrored, as it is stored.
MIRRORED_END = " mirrored"


def shown(name: object) -> str:
    """A name that is stored in English as people read it: of a pose, a move, a facing …

    "walk-on → crucifix", two of them with an arrow between, is shown part by part. What is in no
    catalogue – the athlete's own names – stays as it is.
    """
    text = str(name)
    if not _messages:
        return text
    found = _messages.get(f"{NAME}{_CONTEXT}{text}")
    if found is None and " → " in text:
        return " → ".join(map(shown, text.split(" → ")))
    return found[0] if found else section_text(text)


def section_text(name: str) -> str:
    """A section's name as people read it.

    One that the program proposed ("Part 2", "Part 2 mirrored") is stored in English as long as
    nobody has renamed it, and is read in the language of the window; others are the athlete's own.
    """
    if not _messages:
        return name
    head, _space, tail = name.partition(" ")
    if head == "Part" and tail.isdecimal():
        return _("Part {number}", number=tail)
    if name.endswith(MIRRORED_END) and name != MIRRORED_END:
        section = section_text(name.removesuffix(MIRRORED_END))
        return _("{section} mirrored", section=section)
    return name


def proposed_section(number: int) -> str:
    """The name that is proposed for a section, as it is stored."""
    return f"Part {number}"


def forms_of(text: str) -> tuple[str, ...]:
    """A name that is shown here, then as it is stored, then as it is shown in other languages.

    What is in no catalogue – the athlete's own names – has one form. Two names that are shown
    alike share theirs.
    """
    stored = stored_names(text)
    others = [names[name] for name in stored for names in _names().values() if name in names]
    return tuple(dict.fromkeys((text, *stored, *others)))


def stored_names(text: str) -> tuple[str, ...]:
    """The names that are stored in English and shown here as `text`, in rising order."""
    known = _names()
    here = known.get(LANGUAGE, {})
    stored = [name for name, words in here.items() if words.casefold() == text.casefold()]
    if not stored and any(text in names for names in known.values()):
        stored = [text]
    return tuple(sorted(stored))


@cache
def _names() -> dict[str, dict[str, str]]:
    """The names stored in English as each language shows them; read when first asked for."""
    mark = f"{NAME}{_CONTEXT}"
    found = {}
    for code in languages():
        if code != SOURCE:
            messages = (
                _messages if code == LANGUAGE else TextCatalogue(folder() / f"{code}.po").messages
            )
            found[code] = {
                key.removeprefix(mark): forms[0]
                for key, forms in messages.items()
                if key.startswith(mark)
            }
    return found


def low(text: str) -> str:
    """A text as it stands inside a sentence; where nouns are written large it stays as it is."""
    return text[:1].lower() + text[1:] if LANGUAGE == SOURCE else text


def listed(names: Iterable[object]) -> str:
    """Names in a sentence: "a, b and c"."""
    texts = [str(name) for name in names]
    if len(texts) < 2:
        return "".join(texts)
    return _("{names} and {last}", names=", ".join(texts[:-1]), last=texts[-1])


def place_text(value: object) -> str:
    """A position or a length as people read it: "3:5&", "12,40 s", "4 counts"."""
    return str(_local(value)) if _catalogue else str(value)


def number_text(value: float, spec: str = "g") -> str:
    """A bare number, such as "12,5", formatted by `spec`."""
    return format(_local(float(value)), spec)


def read_number(text: str) -> float:
    """A number as people type it, with a decimal comma or point.

    Raises:
        ValueError: it is none.
    """
    return float(text.strip().replace(",", "."))


#: A date as it is typed: three numbers, or a month's name among them.
_TYPED = r"\s*(\d{1,4})\s*[-./ ]\s*(\d{1,2}|[^\W\d]+)\.?\s*[-./, ]\s*(\d{2,4})\s*"


def read_day(text: str) -> str:
    """A date as people type it – "17.4.2027", "17/04/27", "17 Apr 2027" – as ISO 8601.

    The day comes first where both could be it; what is no date stays as it is.
    """
    import re

    found = re.fullmatch(_TYPED, text)
    if found is None:
        return text.strip()
    one, middle, last = found.groups()
    number = _month_of(middle) if not middle.isdigit() else int(middle)
    year, day = (int(one), int(last)) if len(one) > 2 else (int(last), int(one))
    if len(one) <= 2 and number > 12 >= day:
        number, day = day, number
    year += 2000 if year < 100 else 0
    try:
        return date(year, number, day).isoformat()
    except ValueError:
        return text.strip()


def _month_of(text: str) -> int:
    begun = text.casefold()
    english = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
    own = [month(number).casefold() for number in range(1, 13)]
    for number, name in enumerate(own, 1):
        if len(begun) >= 3 and (name.startswith(begun) or begun.startswith(english[number - 1])):
            return number
    return 0


def day_field(iso: str) -> str:
    """A date that is stored as ISO 8601 as it stands in a field to be changed."""
    try:
        day = date.fromisoformat(iso)
    except ValueError:
        return iso
    return _("{year}-{month:02d}-{day:02d}", year=f"{day.year:04d}", month=day.month, day=day.day)


def month(number: int) -> str:
    """A month's name, 1 to 12."""
    names = (
        *(_("January"), _("February"), _("March"), _("April"), _("May"), _("June")),
        *(_("July"), _("August"), _("September"), _("October"), _("November"), _("December")),
    )
    return names[number - 1]


def day_text(day: date) -> str:
    """A date in words: "17 April 2027", "17. April 2027"."""
    return _("{day} {month} {year}", day=day.day, month=month(day.month), year=day.year)


def moment_text(when: datetime) -> str:
    """A moment of the last weeks: "17 Apr, 18:30", "17. Apr, 18:30"."""
    return _(
        "{day:02d} {month}, {time}",
        day=when.day,
        month=month(when.month)[:3],
        time=f"{when:%H:%M}",
    )


def short_day_text(day: date) -> str:
    """A date in few letters: "17 Apr 2027", "17. Apr 2027"."""
    return _("{day:02d} {month} {year}", day=day.day, month=month(day.month)[:3], year=day.year)


def weekday(number: int) -> str:
    """A weekday's name, 0 for Monday."""
    days = (_("Monday"), _("Tuesday"), _("Wednesday"), _("Thursday"), _("Friday"), _("Saturday"))
    return (*days, _("Sunday"))[number]

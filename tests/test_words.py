"""Every text through one catalogue: complete, filled alike, and nothing stored depends on it."""

import json
import os
import re
import subprocess
import sys

import pytest

from rehearse import words
from rehearse.ui.settings import Settings
from rehearse.words import TextCatalogue
from tests.helpers.messages import CATALOGUES, PACKAGE, ROOT, key_of, messages
from tests.helpers.plain_texts import unlooked_in

_FIELD = re.compile(r"(?<!\{)\{(\w*)[^{}]*\}(?!\})")


def test_every_text_is_looked_up():
    assert unlooked_in(PACKAGE) == []


@pytest.fixture(scope="module")
def found():
    return messages()


@pytest.mark.parametrize("path", sorted(CATALOGUES.glob("*.po")), ids=lambda p: p.stem)
def test_a_catalogue_has_every_text_and_no_other(path, found):
    catalogue = TextCatalogue(path)
    if catalogue.header.get("X-Offered") == "no":
        pytest.skip("it is not offered yet")
    there = {key_of(key) for key in catalogue.messages}
    assert sorted(found.keys() - there) == []
    assert sorted(there - found.keys()) == []


@pytest.mark.parametrize("path", sorted(CATALOGUES.glob("*.po")), ids=lambda p: p.stem)
def test_translations_have_the_fields_of_their_texts(path, found):
    for key, forms in TextCatalogue(path).messages.items():
        message = found.get(key_of(key))
        if message is None:
            continue
        known = set(_FIELD.findall(key_of(key)[1])) | set(_FIELD.findall(message.plural))
        for form in forms:
            assert set(_FIELD.findall(form)) <= known, form
        wanted = set(_FIELD.findall(message.plural or key_of(key)[1]))
        assert wanted <= set(_FIELD.findall(forms[-1])), forms[-1]
        assert bool(message.plural) == (len(forms) > 1), key


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        ((), ""),
        (("open",), ""),
        (("--language", "de", "open"), "de"),
        (("open", "--language=de"), "de"),
        (("--language",), ""),
    ],
)
def test_the_language_on_the_command_line(monkeypatch, arguments, code):
    """`rehearse` without a word ended in a traceback: nothing was paired with nothing more."""
    monkeypatch.setattr(sys, "argv", ["/usr/bin/rehearse", *arguments])
    assert words._asked_for() == code


def _life(place, language):
    """What lies on the disk after a routine's life in a language (`helpers/lifetime.py`)."""
    place.mkdir()
    command = [sys.executable, "-m", "tests.helpers.lifetime", place, ROOT / "demo/copper-lights"]
    environment = {**os.environ, words.VARIABLE: language, "PYTHONPATH": str(ROOT)}
    return subprocess.Popen(
        command,
        cwd=ROOT,
        env=environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def test_nothing_stored_depends_on_the_language(tmp_path):
    lives = [_life(tmp_path / language, language) for language in ("en", "de")]
    told = [life.communicate(timeout=120) for life in lives]
    assert [life.returncode for life in lives] == [0, 0], told
    english, german = (json.loads(out) for out, _faults in told)
    assert english == german


def test_the_language_is_settled_by_wish_then_setting_then_system(monkeypatch, tmp_path):
    monkeypatch.setattr(words, "settings_file", lambda: tmp_path / "settings.ini")
    monkeypatch.setattr(sys, "argv", ["/somewhere/rehearse", "--language", "de", "open"])
    monkeypatch.setattr(sys, "platform", "linux")
    for name in (words.VARIABLE, "LANGUAGE", "LC_ALL", "LC_MESSAGES"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("LANG", "fr_FR.UTF-8")
    assert words._settle() == "de"
    monkeypatch.setattr(sys, "argv", ["/somewhere/rehearse", "open"])
    assert words._settle() == "en"  # there is no French
    Settings(tmp_path / "settings.ini").put("language", "de")
    assert words._settle() == "de"
    Settings(tmp_path / "settings.ini").put("language", "")
    monkeypatch.setenv("LANG", "de_AT.UTF-8")
    offered = words._is_offered("de")
    assert words._settle() == ("de" if offered else "en")
    monkeypatch.setenv("LC_ALL", "C")
    assert words._settle() == "en"


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("2027-04-17", "2027-04-17"),
        ("17.4.2027", "2027-04-17"),
        ("17/04/27", "2027-04-17"),
        ("4/17/2027", "2027-04-17"),
        ("17 Apr 2027", "2027-04-17"),
        ("17. April 2027", "2027-04-17"),
        ("31.2.2027", "31.2.2027"),
        ("soon", "soon"),
        ("", ""),
    ],
)
def test_dates_are_read_as_people_type_them(typed, meant):
    assert words.read_day(typed) == meant


def test_a_catalogue_is_read_as_it_is_written(tmp_path):
    path = tmp_path / "xx.po"
    path.write_text(
        'msgid ""\nmsgstr "Plural-Forms: nplurals=3; plural=(n==1 ? 0 : n<5 ? 1 : 2);\\n"\n\n'
        '# a remark\nmsgid "a \\"b\\"\\n"\nmsgstr "c "\n"\\\\d\\t"\n\n'
        '#, fuzzy\nmsgid "old"\nmsgstr "gone"\n\nmsgid "later"\nmsgstr ""\n\n'
        'msgctxt "name"\nmsgid "x"\nmsgstr "y"\n\n'
        'msgid "one"\nmsgid_plural "many"\nmsgstr[0] "1"\nmsgstr[1] "2"\nmsgstr[2] "5"\n',
        "utf-8",
    )
    read = TextCatalogue(path)
    assert read.messages == {'a "b"\n': ("c \\d\t",), "name\x04x": ("y",), "one": ("1", "2", "5")}
    assert [read.plural(n) for n in (1, 3, 7)] == [0, 1, 2]

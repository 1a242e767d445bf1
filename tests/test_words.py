"""Every text through one catalogue: complete, filled alike, and nothing stored depends on it."""

import re
import sys

import pytest

from rehearse import words
from rehearse.words import Catalogue
from tests.helpers.messages import CATALOGUES, PACKAGE, key_of, messages
from tests.helpers.plain_texts import unlooked_in

_FIELD = re.compile(r"(?<!\{)\{(\w*)[^{}]*\}(?!\})")


def test_every_text_is_looked_up():
    assert unlooked_in(PACKAGE) == []


@pytest.fixture(scope="module")
def found():
    return messages()


@pytest.mark.parametrize("path", sorted(CATALOGUES.glob("*.po")), ids=lambda p: p.stem)
def test_a_catalogue_has_every_text_and_no_other(path, found):
    catalogue = Catalogue(path)
    if catalogue.header.get("X-Offered") == "no":
        pytest.skip("it is not offered yet")
    there = {key_of(key) for key in catalogue.messages}
    assert sorted(found.keys() - there) == []
    assert sorted(there - found.keys()) == []


@pytest.mark.parametrize("path", sorted(CATALOGUES.glob("*.po")), ids=lambda p: p.stem)
def test_translations_have_the_fields_of_their_texts(path, found):
    for key, forms in Catalogue(path).messages.items():
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

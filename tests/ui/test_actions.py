"""One registry of actions: one meaning a key, and everything that names a key made from it."""

import re
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QAction, QKeySequence, QShortcut
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QLabel, QWidget

from rehearse.ui import actions, bindings, key_list
from rehearse.ui.actions import ALL, EVERYWHERE, PAGES, Action, is_letter
from rehearse.ui.bindings import Bindings, keys_of
from rehearse.ui.settings import Settings

from .made import fast_folder, rehearsing

ROOT = Path(__file__).resolve().parents[2]


def two_meanings(actions: tuple[Action, ...] = ALL) -> list[str]:
    """Keys that mean two things: a letter anywhere, any other key on one page."""
    found = []
    for number, one in enumerate(actions):
        for other in actions[number + 1 :]:
            together = set(one.pages) & set(other.pages)
            meet = together or EVERYWHERE in (one.pages, other.pages)
            for shared in sorted(set(one.keys) & set(other.keys)):
                if meet or is_letter(shared):
                    found.append(f"{shared}: {one.name}, {other.name}")
    return found


def portable(key):
    return QKeySequence(key).toString()


def test_a_key_means_one_thing():
    assert two_meanings() == []


@pytest.mark.parametrize(
    ("one", "other", "told"),
    [
        (("a", "J", "Music"), ("b", "J", "Routine"), ["J: a, b"]),
        (("a", "Shift+J", "Music"), ("b", "Shift+J", "Routine"), ["Shift+J: a, b"]),
        ((",", ",", "Music"), ("b", ",", "Logbook"), [",: ,, b"]),
        (("a", "Left", "Music"), ("b", "Left", "Routine"), []),
        (("a", "Left", "Music"), ("b", "Left", "Music"), ["Left: a, b"]),
        (("a", "Left", "Music"), ("b", "Left", "everywhere"), ["Left: a, b"]),
        (("a", "J", "Music"), ("b", "Shift+J", "Routine"), []),
    ],
)
def test_two_meanings_are_found(one, other, told):
    made = [Action(name, name, (key,), (page,)) for name, key, page in (one, other)]
    assert two_meanings(tuple(made)) == told


def test_names_are_unique_and_keys_are_as_qt_writes_them():
    names = [action.name for action in ALL]
    assert len(names) == len(set(names))
    for action in ALL:
        assert action.words
        assert action.keys
        for key in action.keys:
            assert portable(key) == key


def bound(window):
    """Every key sequence that something in the window hears, without those of buttons with Alt."""
    for action in window.findChildren(QAction):
        for sequence in action.shortcuts():
            yield sequence.toString(), action.text()
    for shortcut in window.findChildren(QShortcut):
        yield shortcut.key().toString(), str(shortcut.parent())


@pytest.fixture
def window(workspace, tmp_path, qtbot):
    workspace.settings.put("silent", True)
    window = rehearsing(workspace, fast_folder(tmp_path / "fast"), qtbot)
    yield window
    window.close()


def test_nothing_is_bound_that_is_not_declared(window):
    for page in range(len(PAGES)):
        window.show_page(page)
    window.own_voice()
    declared = {portable(key) for action in ALL for key in action.keys}
    found = dict(bound(window))
    assert len(found) > 90
    strays = {key: what for key, what in found.items() if key and key not in declared}
    assert {k for k in strays if not k.startswith("Alt+")} == set()


def test_every_page_lists_its_keys(window, workspace):
    workspace.settings.put("keys/clean", "B")
    for page, word in enumerate(PAGES):
        window.show_page(page)
        QTest.keyClick(window.page, Qt.Key.Key_Question)
        shown = {label.text() for label in window.findChildren(QLabel)}
        rows = key_list.key_rows(word, lambda action: keys_of(action, workspace.settings))
        for keys, words in (*rows, *key_list.general_rows()):
            if page != 1 or (keys, words) not in key_list.general_rows():
                assert keys in shown, (word, keys)
            assert words in shown


def readme():
    return (ROOT / "README.md").read_text(encoding="utf-8")


def test_the_readmes_list_is_the_registrys():
    assert key_list.key_list() in readme(), "put in what `python -m rehearse.ui.key_list` prints"


def test_the_readmes_first_hour_names_keys_that_exist():
    told = readme().split("## Your first hour")[1].split("## ")[0]
    keys = {actions.printed(key) for action in ALL for key in action.keys}
    aliases = {"Del": "Del", "Enter": "Enter", "Ctrl+Z": "Ctrl+Z"}
    named = set(re.findall(r"\*\*((?:(?:Ctrl|Shift|Alt)\+)*[A-Z?.,−+])\*\*", told))
    assert len(named) > 20
    assert named - keys - set(aliases) == set()


def test_no_text_in_the_code_names_a_key_by_itself():
    """A sentence on the screen gets its key from the registry: what is written by hand goes stale.

    Looked for: "press X", "key X", "X   " at the end of a button's words, in any string; not "with
    A pose", where the letter is a word.
    """
    pattern = re.compile(
        r'"[^"\n]*(?:\b[Pp]ress (?:(?:Ctrl|Shift)\+)*[A-Z]\b'
        r"|\b(?:[Kk]ey|with|Tap) (?:(?:Ctrl|Shift)\+)*[A-Z]\b(?! [a-z])"
        r'|   (?:(?:Ctrl|Shift)\+)*[A-Z]")'
    )
    found = []
    for path in sorted((ROOT / "rehearse").rglob("*.py")):
        text = re.sub(r'"""(?:.|\n)*?"""', "", path.read_text(encoding="utf-8"))
        found += [f"{path.name}: {line}" for line in text.splitlines() if pattern.search(line)]
    assert found == []


class TestAssigned:
    @pytest.fixture
    def settings(self, tmp_path):
        return Settings(tmp_path / "settings.ini")

    @pytest.fixture
    def page(self, qtbot):
        page = QWidget()
        qtbot.addWidget(page)
        return page

    def test_what_an_earlier_version_stored_still_works(self, settings, page):
        settings.put("keys/clean", "B\tMedia Play")
        made = Bindings(page, actions.ASSIGNABLE, settings=settings)
        assert made.of("clean") == ("B", "Media Play")
        assert [s.toString() for s in made.actions["clean"].shortcuts()] == ["B", "Media Play"]

    def test_first_keys_of_an_earlier_version_are_those_of_now(self, settings, page):
        for name, key in (("silent", "N"), ("setup", "U"), ("clean", "C")):  # "Reset keys" of then
            settings.put(f"keys/{name}", key)
        made = Bindings(page, actions.ASSIGNABLE, settings=settings)
        assert made.of("silent") == ("Shift+N",)
        assert made.of("setup") == ("Shift+U",)
        assert made.of("clean") == ("C",)

    def test_reset_leaves_nothing_stored(self, settings, page):
        made = Bindings(page, actions.ASSIGNABLE, settings=settings)
        assert made.assign("clean", "B") == ""
        made.reset()
        assert made.of("clean") == ("C",)
        assert settings.get("keys/clean", "") == ""

    def test_a_key_with_a_meaning_elsewhere_is_told(self):
        assert bindings.meaning_elsewhere("B", "Rehearse") == (
            "On the Routine page B is “Add the current pose on this beat”."
        )
        assert bindings.meaning_elsewhere("Media Play", "Rehearse") == ""


def test_a_button_follows_whether_its_action_is_possible(qtbot):
    from PySide6.QtWidgets import QPushButton

    page = QWidget()
    qtbot.addWidget(page)
    done = []
    made = Bindings(page, actions.ON_OWN_VOICE, {"play_recording": lambda: done.append(1)})
    button = QPushButton(page)
    made.button(button, "play_recording")
    assert button.text() == "Listen   Ctrl+L"
    made.allow("play_recording", False)
    assert not button.isEnabled()
    made.allow("play_recording", True)
    button.click()
    assert done == [1]


def test_the_clickers_table_names_actions_that_can_be_assigned():
    names = {action.name for action in actions.ASSIGNABLE}
    for state, pair in key_list.CLICKER_TABLE.items():
        assert set(pair) <= names
        assert len(set(key_list.clicker_words(state))) == 2

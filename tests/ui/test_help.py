"""Help inside: F1 on every page and form, the key sheet, the About page."""

import re
import shutil
import tomllib
from pathlib import Path

import pypdfium2
import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLabel

from rehearse.cli import main
from rehearse.files.components import LIBRARIES, components
from rehearse.handout.key_sheet import make_key_sheet
from rehearse.ui import actions, file_dialog, help_texts
from rehearse.ui.bindings import with_keys
from rehearse.ui.flows.about import About
from rehearse.ui.flows.help_page import HelpPage
from rehearse.ui.flows.key_help import KeyHelp
from rehearse.ui.key_list import key_groups
from rehearse.ui.window import PAGES, Window

from .made import DEMO

K = Qt.Key
CTRL, SHIFT = Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.ShiftModifier
FLOWS = {
    "new_routine": "NewRoutine",
    "new_rounds": "NewRounds",
    "another_show": "AnotherShow",
    "show_and_rules": "ShowAndRules",
    "recent_routines": "StartPage",
    "take_along": "HandoutFlow",
    "own_voice": "OwnVoice",
    "cut_song": "CutSong",
    "film_of_a_run": "FilmFlow",
}


@pytest.fixture
def window(workspace, qtbot, monkeypatch):
    monkeypatch.setattr(workspace, "decode", lambda: None)
    window = Window(workspace)
    qtbot.addWidget(window)
    window.resize(1366, 768)
    with qtbot.waitExposed(window):
        window.show()
    window.activateWindow()
    yield window
    window.close()


@pytest.fixture
def demo(tmp_path):
    return Path(
        shutil.copytree(DEMO, tmp_path / "demo", ignore=shutil.ignore_patterns("*.sqlite*"))
    )


def press(key, held=Qt.KeyboardModifier.NoModifier):
    QTest.keyClick(QApplication.focusWidget(), key, held)


def shown(window):
    return " ".join(w.text() for w in window.page.findChildren(QLabel))


def test_f1_tells_of_the_page_and_goes_back_to_it(window, workspace, demo, settings):
    press(K.Key_F1)
    assert window.page.heading.text() == help_texts.PAGES[actions.START].title
    press(K.Key_Return)
    assert window.page is None
    settings.put("keys/clean", "B")
    assert workspace.open(demo)
    for index, (word, _, _) in enumerate(PAGES):
        window.show_page(index)
        before = window.page
        press(K.Key_F1)
        assert isinstance(window.page, HelpPage)
        topic = help_texts.PAGES[word]
        assert window.page.heading.text() == topic.title
        for head, text in topic.parts:
            assert head in shown(window)
            assert with_keys(text, settings) in shown(window)
        press(K.Key_F1)
        assert window.page is before
        assert before.hasFocus() or before.isAncestorOf(QApplication.focusWidget())
    assert "B clean" in with_keys("{clean} clean", settings)


def test_f1_in_a_form_leaves_what_was_filled_in(window, workspace, demo):
    assert workspace.open(demo)
    for opener, name in FLOWS.items():
        getattr(window, opener)()
        if window._flow is None:  # the song is not read here
            continue
        flow = window._flow
        assert type(flow).__name__ == name
        QTest.keyClick(window, K.Key_F1)
        assert window.page.heading.text() == help_texts.FLOWS[name].title
        press(K.Key_Escape)
        assert window.page is flow
    window.show_and_rules()
    window._flow.title.setText("half written")
    QTest.keyClick(window, K.Key_F1)
    QTest.keyClick(window, K.Key_F1)
    assert window.page.title.text() == "half written"


def test_every_key_named_in_the_help_is_an_actions():
    for topic in (*help_texts.PAGES.values(), *help_texts.FLOWS.values()):
        for _, text in topic.parts:
            assert "{" not in with_keys(text)
    assert set(help_texts.PAGES) == {*actions.PAGES, actions.START}
    assert set(FLOWS.values()) <= set(help_texts.FLOWS)


def words_of(pdf):
    document = pypdfium2.PdfDocument(pdf)
    return [page.get_textpage().get_text_range() for page in document]


def test_the_key_sheet_has_every_key_on_two_sides_of_a_paper(tmp_path, capsys):
    out = tmp_path / "keys.pdf"
    assert main(["keys", "--out", str(out), "--paper", "letter"]) == 0
    pages = words_of(out)
    assert len(pages) == 2
    text = re.sub(r"\s+", " ", " ".join(pages))
    for title, rows in key_groups():
        assert title in text
        for keys, words in rows:
            assert keys in text, keys
            assert words in text, words
    capsys.readouterr()
    assert main(["keys"]) == 0
    assert "Stop everything: dizzy, cramp or pain" in capsys.readouterr().out


def test_a_heading_never_stands_alone_at_the_foot_of_a_column():
    for rows in range(50, 75):
        groups = [("First", [("A", "one")] * rows), ("Second", [("B", "two")] * 3)]
        for page in words_of(make_key_sheet("Keys", groups)):
            assert not page.strip().endswith("Second")


def test_the_key_sheet_is_saved_from_the_list_of_keys(
    window, workspace, demo, tmp_path, monkeypatch
):
    target = tmp_path / "mine"
    monkeypatch.setattr(file_dialog, "save_file", lambda *a: str(target))
    workspace.settings.put("keys/clean", "B")
    assert workspace.open(demo)
    QTest.keyClick(window.page, K.Key_Question)
    assert isinstance(window.page, KeyHelp)
    press(K.Key_K, CTRL | SHIFT)
    assert "mine.pdf" in window.page.sentence.text()
    text = " ".join(words_of(target.with_suffix(".pdf")))
    assert re.search(r"\bB\b\s+Clean", text)
    target = tmp_path / "gone" / "mine.pdf"
    press(K.Key_K, CTRL | SHIFT)
    assert "gone" in window.error.text


def test_about_lists_every_part_with_version_and_licence(window):
    QTest.keyClick(window, K.Key_B, CTRL | SHIFT)
    assert isinstance(window.page, About)
    lines = [window.page.list.item(k).text() for k in range(window.page.list.count())]
    for name in LIBRARIES:
        same = name.replace("-", "").replace("_", "").lower()
        found = [x for x in lines if x.replace("-", "").replace("_", "").lower().startswith(same)]
        assert found, name
        assert re.search(r"\d", found[0]), found
    for name in ("Barlow Condensed", "DejaVu", "eSpeak NG", "FFmpeg", "Qt", "beat network"):
        assert any(name in line for line in lines), name
    assert "GNU GENERAL PUBLIC LICENSE" in window.page.text.toPlainText()
    press(K.Key_Down)
    assert "SIL OPEN FONT LICENSE" in window.page.text.toPlainText().upper()
    press(K.Key_Escape)
    assert window.page is None


def test_the_libraries_listed_are_those_the_program_needs():
    project = Path(__file__).resolve().parents[2] / "pyproject.toml"
    needs = tomllib.loads(project.read_text())["project"]["dependencies"]
    assert [re.match(r"[\w-]+", need)[0] for need in needs] == list(LIBRARIES)


def test_every_part_names_a_licence():
    found = components()
    assert len(found) > 30
    for part in found:
        assert part.licence, part.name
        assert part.text

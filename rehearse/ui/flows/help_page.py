"""The help of a page (F1): what it is for, in the order of the work, and its keys beside it."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QScrollArea, QVBoxLayout, QWidget

from rehearse.ui import theme
from rehearse.ui.bindings import with_keys
from rehearse.ui.flows.flow import Flow
from rehearse.ui.flows.key_help import key_table
from rehearse.ui.help_texts import Topic
from rehearse.ui.workspace import Workspace
from rehearse.words import _


class HelpPage(Flow):
    """Stands in front of a page or a form, which goes on being what it was."""

    def __init__(self, workspace: Workspace, topic: Topic) -> None:
        super().__init__(workspace, topic.title)
        text = QWidget()
        column = QVBoxLayout(text)
        column.setContentsMargins(0, 0, 3 * theme.STEP, 0)
        column.setSpacing(theme.STEP // 2)
        for head, words in topic.parts:
            title = QLabel(head)
            title.setProperty("role", "key")
            said = QLabel(with_keys(words, workspace.settings), wordWrap=True)
            said.setProperty("role", "body")
            column.addWidget(title)
            column.addWidget(said)
            column.addSpacing(theme.STEP)
        column.addStretch(1)
        row = QHBoxLayout()
        row.setSpacing(4 * theme.STEP)
        row.addWidget(_scrolled(text, topic.title), 3)
        if topic.keys:
            row.addWidget(key_table(topic.keys, workspace.settings), 2)
        self.body.addLayout(row, 1)
        self.sentence.hide()
        self.offer(_("OK"))

    def do_main(self) -> None:
        """Back to what stood here before."""
        self.leave()


def _scrolled(inside: QWidget, name: str) -> QScrollArea:
    area = QScrollArea(widgetResizable=True)
    area.setProperty("role", "reader")  # the focus shows
    area.setFrameShape(QFrame.Shape.NoFrame)
    area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    area.setWidget(inside)
    area.setAccessibleName(name)
    return area

"""The contact sheet on the screen, as it is printed; saved as PDF or PNG."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtGui import QImage, QPixmap, QResizeEvent, QShowEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QScrollArea, QVBoxLayout, QWidget

from rehearse.files.atomic import save_atomic
from rehearse.practice.takelog import TakeDone
from rehearse.ui import theme
from rehearse.ui.pages.logbook.save_as import ask_and_save
from rehearse.ui.workspace import Workspace
from rehearse.words import _

if TYPE_CHECKING:
    from rehearse.handout.contact import Contact

LAYING = _("Laying out the contact sheet")
#: Pixels a page is wide at most.
_WIDEST = 1400


class SheetView(QWidget):
    """Shows the pages of one take; the take before can stand beside.

    Signals:
        compared: another take stands beside, or none.
    """

    compared = Signal()

    def __init__(self, workspace: Workspace) -> None:
        super().__init__()
        self._workspace = workspace
        self.takes: Sequence[TakeDone] = ()
        self.take: TakeDone | None = None
        self.other: TakeDone | None = None
        self.contact: Contact | None = None
        self._number = 0
        self.pdf, self.png = QPushButton(_("Save PDF")), QPushButton(_("Save PNG"))
        self.beside = QPushButton(_("Beside the take before"))
        self.pdf.clicked.connect(self.save_pdf)
        self.png.clicked.connect(self.save_png)
        self.beside.clicked.connect(self.compare)
        self._pages: list[QPixmap] = []
        self._labels: list[QLabel] = []
        self._column = QVBoxLayout()
        self._column.setSpacing(2 * theme.STEP)
        self._wait = QLabel(_("The contact sheet is being laid out."))
        self._wait.setProperty("role", "body")
        self._column.addWidget(self._wait, 0, Qt.AlignmentFlag.AlignCenter)
        inside = QWidget()
        inside.setLayout(self._column)
        self.area = QScrollArea(widgetResizable=True)
        self.area.setProperty("role", "reader")  # the focus shows
        self.area.setFrameShape(QScrollArea.Shape.NoFrame)
        self.area.setWidget(inside)
        self.area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.area.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOn)
        self.area.setAccessibleName(_("Contact sheet"))
        row = QHBoxLayout()
        row.setSpacing(2 * theme.STEP)
        for button in (self.pdf, self.png, self.beside):
            row.addWidget(button)
        row.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addLayout(row)
        column.addWidget(self.area, 1)

    def show_take(self, take: TakeDone) -> None:
        """Lay out the contact sheet of a take."""
        self.take, self.other = take, None
        if take not in self.takes:
            known = [each for each in self.takes if each.id != take.id]
            self.takes = sorted((*known, take), key=lambda each: each.filmed)
        self._lay_out()

    def _before(self) -> TakeDone | None:
        if self.take is None:
            return None
        earlier = [t for t in self.takes if t.filmed < self.take.filmed and t.id != self.take.id]
        return max(earlier, key=lambda take: take.filmed) if earlier else None

    @Slot()
    def compare(self) -> None:
        """The take before stands beside, or no longer."""
        self.other = None if self.other is not None else self._before()
        self._lay_out()
        self.compared.emit()

    def _lay_out(self) -> None:
        from rehearse.handout.contact import make_contact

        self._number = number = self._number + 1
        self.contact = None
        self._show_pages(())
        before = self._before()
        self.beside.setEnabled(before is not None)
        self.beside.setText(
            _("Arrivals beside") if self.other is not None else _("Beside the take before")
        )
        if self._workspace.folder is None or not self._workspace.save():
            return
        self._workspace.run_job(
            LAYING, make_contact, self._workspace.folder, self.take, tuple(self.takes), self.other,
            done=lambda contact: self._laid(number, contact),
        )  # fmt: skip

    def _laid(self, number: int, contact: Contact) -> None:
        if number != self._number:
            return
        self.contact = contact
        self._show_pages(contact.pages)

    def _show_pages(self, pages: Sequence[bytes]) -> None:
        for label in self._labels:
            self._column.removeWidget(label)
            label.deleteLater()
        self._pages = [QPixmap.fromImage(QImage.fromData(page)) for page in pages]
        self._labels = [QLabel() for _unused in pages]
        for k, label in enumerate(self._labels):
            label.setAccessibleName(_("Contact sheet, page {k}", k=k + 1))
            self._column.addWidget(label, 0, Qt.AlignmentFlag.AlignHCenter)
        self._wait.setVisible(not pages)
        for button in (self.pdf, self.png):
            button.setEnabled(bool(pages))
        self._fit()

    def _fit(self) -> None:
        width = max(200, min(_WIDEST, self.area.viewport().width() - 2 * theme.STEP))
        for label, page in zip(self._labels, self._pages, strict=True):
            how = Qt.TransformationMode.SmoothTransformation
            label.setPixmap(page.scaledToWidth(width, how))

    def showEvent(self, event: QShowEvent) -> None:
        """Before it is seen there is no width to fit the pages to."""
        super().showEvent(event)
        self._fit()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """The pages are as wide as there is room."""
        super().resizeEvent(event)
        self._fit()

    @Slot()
    def save_pdf(self) -> None:
        """Ask for a name and save the sheet as PDF."""
        self._save(_("contact sheet") + ".pdf", _("PDF (*.pdf)"), lambda contact: contact.pdf)

    @Slot()
    def save_png(self) -> None:
        """Ask for a name and save the sheet as one picture."""
        self._save(_("contact sheet") + ".png", _("Picture (*.png)"), lambda contact: contact.png)

    def _save(self, name: str, kind: str, data: Callable[[Contact], bytes]) -> None:
        contact = self.contact
        if contact is not None:

            def write(path: Path) -> None:
                save_atomic(path, data(contact))

            ask_and_save(self, self._workspace, name, kind, write)

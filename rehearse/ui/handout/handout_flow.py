"""Taking along: choose a kind and its options, see it, make it, find the file."""

from __future__ import annotations

import functools
import itertools
from pathlib import Path

from PySide6.QtCore import QSize, Qt, QTimer, QUrl, Slot
from PySide6.QtGui import QDesktopServices, QFocusEvent, QResizeEvent
from PySide6.QtWidgets import (
    QButtonGroup,
    QFrame,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QScrollArea,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from rehearse.files.user_error import UserError
from rehearse.handout.handout_options import KINDS, HandoutOptions
from rehearse.handout.handout_source import HandoutSource, make_source
from rehearse.handout.make import HandoutResult, make
from rehearse.handout.preview import preview, unspoken
from rehearse.routine.versions import ROUTINE
from rehearse.ui import file_dialog, theme
from rehearse.ui.flows.flow import Flow
from rehearse.ui.handout.forms import (
    CueForm,
    Form,
    PageForm,
    SheetForm,
    StageForm,
    VideoForm,
    ZipForm,
)
from rehearse.ui.handout.handout_text import MAKE, MAKING, WORDS, outline, round_outline
from rehearse.ui.handout.listen import Listen
from rehearse.ui.handout.preview_panel import DOTS, PreviewPanel
from rehearse.ui.handout.remember import keep_choices, last_choices
from rehearse.ui.jobs import RunningJob
from rehearse.ui.stage.frames import StageFrames
from rehearse.ui.workspace import Workspace
from rehearse.words import _

_FORMS: dict[str, type[Form]] = {
    "sheet": SheetForm,
    "cue-track": CueForm,
    "cue-video": VideoForm,
    "stage-music": StageForm,
    "page": PageForm,
    "zip": ZipForm,
}
#: Kinds that are heard.
_HEARD = ("cue-track", "cue-video")
#: Milliseconds after the last change before the preview is drawn again.
_SETTLE = 250
#: Pixels of width under which only the choices are shown.
_NARROW = 1100


class _Column(QScrollArea):
    """As wide as what is in it; a short window scrolls it and never squeezes it."""

    def __init__(self, content: QWidget, least: int = 0) -> None:
        super().__init__()
        self._content, self._least = content, least
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setWidget(content)

    def sizeHint(self) -> QSize:
        """The width of the content, and of its bar where it is scrolled."""
        inside = self._content.minimumSizeHint()
        bar = self.verticalScrollBar().sizeHint().width()
        return QSize(max(inside.width() + bar, theme.px(self._least)), inside.height())

    def minimumSizeHint(self) -> QSize:
        """The same width; any height."""
        return QSize(self.sizeHint().width(), 0)


class HandoutFlow(Flow):
    """The kinds to the left, their choices in the middle, what comes of it to the right."""

    def __init__(self, workspace: Workspace) -> None:
        super().__init__(workspace, _("Handouts"))
        self._running: RunningJob | None = None
        self._looking: RunningJob | None = None
        self.made: HandoutResult | None = None
        self.kinds = QButtonGroup(self)
        self.forms = QStackedWidget()
        self._forms: list[Form] = []
        self.preview = PreviewPanel()
        self.place = QLineEdit(self._first_place())
        self.change = QPushButton(_("Change"))
        self.show_made = QPushButton(_("Show the file"))
        self.show_made.setVisible(False)
        self.listen = Listen(workspace, self._chosen)
        self.listen.told.connect(self.say)
        self._settle = QTimer(self, singleShot=True, interval=_SETTLE)
        self._settle.timeout.connect(self._look)
        self._lay_out()
        self.show_made.clicked.connect(self.show_file)
        self.kinds.idClicked.connect(self.choose)
        workspace.jobChanged.connect(self._watch)
        first = self.workspace.settings.get("handout_kind", "")
        number = list(KINDS).index(first) if first in KINDS else 0
        self.kinds.button(number).setChecked(True)
        self.choose(number)

    @property
    def kind(self) -> str:
        """The kind chosen."""
        return tuple(KINDS)[max(0, self.kinds.checkedId())]

    @property
    def form(self) -> Form:
        """The form of the kind chosen."""
        return self._forms[max(0, self.forms.currentIndex())]

    def _chosen(self) -> tuple[HandoutSource, HandoutOptions] | None:
        source = self._source()
        return None if source is None else (source, self._options())

    def _options(self) -> HandoutOptions:
        return HandoutOptions(**self.form.options())

    def _first_place(self) -> str:
        folder = self.workspace.folder.parent if self.workspace.folder else Path.home()
        return str(self.workspace.settings.get("handout_place", "") or folder)

    def _lay_out(self) -> None:
        kinds = QWidget()
        left = QVBoxLayout(kinds)
        left.setContentsMargins(0, 0, 0, 0)
        left.setSpacing(theme.STEP)
        for number, (key, words) in enumerate(KINDS.items()):
            button = QPushButton(words[:1].upper() + words[1:])
            button.setCheckable(True)
            button.setAccessibleName(f"{words}: {WORDS[key]}")
            self.kinds.addButton(button, number)
            left.addWidget(button)
            form = _FORMS[key](self.workspace)
            form.restore(last_choices(self.workspace, key))
            self._add_form(form)
        left.addStretch(1)
        row = QHBoxLayout()
        row.setSpacing(4 * theme.STEP)
        row.addWidget(_Column(kinds))
        row.addWidget(self.forms, 3)
        row.addWidget(self.preview, 3)
        self.body.addLayout(row, 1)
        self.body.addWidget(self._place_row())
        self.foot.insertWidget(1, self.listen)
        self.foot.insertWidget(2, self.show_made)
        # The foot was made before the body; by key it comes after it, as it does on the screen.
        order = (self.change, self.main, self.listen, self.show_made, self.back)
        for one, following in itertools.pairwise(order):
            self.setTabOrder(one, following)

    def _add_form(self, form: Form) -> None:
        # A short screen scrolls the choices and never squeezes them.
        area = _Column(form, 60 * theme.STEP)
        area.setFocusProxy(form)
        self.forms.addWidget(area)
        self._forms.append(form)
        form.changed.connect(self._changed)

    def _place_row(self) -> QWidget:
        holder = QWidget()
        row = QHBoxLayout(holder)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(2 * theme.STEP)
        label = QLabel(_("&Save in"))
        label.setBuddy(self.place)
        self.place.setAccessibleName(_("Folder the file is put in"))
        self.change.setAccessibleName(_("Change the folder the file is put in"))
        self.change.clicked.connect(self.ask_place)
        for widget in (label, self.place, self.change):
            row.addWidget(widget, 1 if widget is self.place else 0)
        return holder

    @Slot(int)
    def choose(self, number: int) -> None:
        """Show the choices of one kind."""
        self.forms.setCurrentIndex(number)
        self.workspace.settings.put("handout_kind", self.kind)
        self._changed()

    @Slot()
    def ask_place(self) -> None:
        """Ask for the folder the file is put in."""
        if chosen := file_dialog.open_folder(self, _("Save in"), self.place.text()):
            self.place.setText(chosen)

    @Slot()
    def _changed(self) -> None:
        self.made = None
        self.show_made.setVisible(False)
        self.listen.hush()
        called = self.kind in _HEARD and self._options().called is not None
        self.listen.setVisible(self.kind in _HEARD and not called)
        keep_choices(self.workspace, self.kind, self.form.choices())
        self.say(WORDS[self.kind])
        self.offer(MAKE[self.kind], ready=self._running is None and self._source() is not None)
        self._settle.start()

    def _source(self) -> HandoutSource | None:
        workspace = self.workspace
        if workspace.folder is None or workspace.routine is None or workspace.beatmap is None:
            return None
        return make_source(workspace.folder, workspace.routine, workspace.beatmap)

    @Slot()
    def _look(self) -> None:
        """Show what would come of the choices."""
        source = self._source()
        if self._looking is not None:
            self.workspace.stop_job(self._looking)
            self._looking = None
        called = self._options().called if self.kind in _HEARD else None
        if called is not None:
            self.preview.say(round_outline(called))
        elif source is None:
            self.preview.say(_("The beat map comes first: make it on the Music page, key 1."))
        elif self.kind == "stage-music":
            self.preview.show_checklist(source, self.form.options())
        elif self.kind == "sheet":
            options = self.form.options()
            self.preview.say(_("The first page appears here."))
            self._looking = self.workspace.run_job(
                _("Drawing the sheet"),
                preview,
                *(source, options["style"], options["paper"], DOTS),
                done=self._looked,
                failed=lambda error: self._looked(error),
            )
        else:
            self.preview.say(outline(self.kind, source, self._options()))
            if self.kind in _HEARD:
                self._looking = self.workspace.run_job(
                    _("Looking for names without room"),
                    unspoken,
                    *(source, self._options()),
                    done=self._foretold,
                    failed=lambda error: self._foretold(()),
                )

    def _foretold(self, sentences: tuple[str, ...]) -> None:
        """Name what cannot be spoken under what the cue track will be."""
        self._looking = None
        source = self._source()
        if self.kind in _HEARD and source is not None and sentences:
            told = outline(self.kind, source, self._options())
            self.preview.say("\n\n".join([told, *(f"▲ {sentence}" for sentence in sentences)]))

    def _looked(self, result: bytes | UserError) -> None:
        self._looking = None
        if self.kind != "sheet":
            return
        if isinstance(result, UserError):
            self.preview.say(result.sentence)
        else:
            self.preview.show_page(result)

    def do_main(self) -> None:
        """Make it in a worker process; the window shows how far it is."""
        folder = self.workspace.folder
        if folder is None or self._running is not None or not self.workspace.save():
            return
        options = self._options()
        place = Path(self.place.text()).expanduser()
        if not place.is_dir():
            self.workspace.errorRaised.emit(
                UserError(
                    _("there is no such folder"), where=place, do=_("choose another")
                ).sentence
            )
            self.place.setFocus()
            return
        self.workspace.settings.put("handout_place", str(place))
        self.workspace.errorRaised.emit("")
        self._running = self.workspace.run_job(
            MAKING[self.kind],
            functools.partial(make, painter=StageFrames),
            *(folder, self.kind, place, options),
            done=self._done,
            failed=self._failed,
        )
        self.offer(MAKE[self.kind], ready=False)
        self.say(_("It is being made; Esc or Stop ends it and leaves nothing behind."))

    def _done(self, made: HandoutResult) -> None:
        self._running, self.made = None, made
        self.offer(MAKE[self.kind])
        self.say(made.sentence)
        self.show_made.setVisible(True)
        self.show_made.setAccessibleName(_("Show {name} in its folder", name=made.paths[0].name))
        if made.warnings:
            self.workspace.errorRaised.emit("\n".join(made.warnings))

    def _failed(self, error: UserError) -> None:
        self._running = None
        self._changed()
        self.workspace.errorRaised.emit(error.sentence)

    @Slot()
    def show_file(self) -> None:
        """Open the folder the file was put in."""
        if self.made is not None:
            QDesktopServices.openUrl(QUrl.fromLocalFile(str(self.made.paths[0].parent)))

    @Slot()
    def _watch(self) -> None:
        if self._running is not None and self._running.stopped:
            self._running = None
            self._changed()

    def focusInEvent(self, event: QFocusEvent) -> None:
        """Begin at the kind chosen. (A focus proxy inside would take the foot out of Tab's way.)"""
        super().focusInEvent(event)
        if (button := self.kinds.checkedButton()) is not None:
            button.setFocus()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """On a narrow window the choices need the room of what is beside them."""
        super().resizeEvent(event)
        self.preview.setVisible(self.width() >= theme.px(_NARROW))

    def leave(self) -> None:
        """Stop what is under way and go back."""
        self._settle.stop()
        self.listen.hush()
        for running in (self._running, self._looking):
            if running is not None:
                self.workspace.stop_job(running)
        self._running = self._looking = None
        super().leave()

    def takes(self, path: Path) -> bool:
        """A folder that is no routine; a song, a film or a routine is the window's."""
        return path.is_dir() and not (path / ROUTINE).exists()

    def take_path(self, path: Path) -> None:
        """A dropped folder is where the file is put."""
        self.place.setText(str(path))

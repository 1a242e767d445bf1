"""What earlier times have left: a change that was not saved, a file that cannot be read."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from rehearse.files.user_error import UserError
from rehearse.files.yamlfile import dump_yaml
from rehearse.routine.folder import good_save
from rehearse.routine.routinedata import routine_data
from rehearse.routine.versions import ROUTINE, fingerprint, keep_data, restore, when_of
from rehearse.ui.questions import Answer, Question
from rehearse.ui.undo import Documents
from rehearse.words import _

if TYPE_CHECKING:
    from rehearse.routine.unsaved import Unsaved
    from rehearse.routine.versions import Version
    from rehearse.ui.workspace import Workspace


def offer_unsaved(workspace: Workspace, folder: Path) -> None:
    """Offer what was kept on this machine when the folder could not be written."""
    from rehearse.routine.unsaved import unsaved_of

    state = unsaved_of(folder)
    if state is None:
        return
    sentence = _(
        "A change of {when} could not be saved then and was kept on this "
        "machine. Add it now? If not, it stays among the versions.",
        when=state.when,
    )
    answers = (
        Answer(_("Add it"), "A", partial(_put_in, workspace, state)),
        Answer(_("Leave it out"), "L", partial(_leave_out, workspace, state)),
    )
    workspace.questions.ask("unsaved", Question(sentence, answers))


def remind(workspace: Workspace) -> None:
    """Nothing is open: tell of a change that waits for a folder that is not there."""
    from rehearse.routine.unsaved import list_unsaved

    away = [state for state in list_unsaved() if not state.folder.is_dir()]
    if away:
        state = away[0]
        workspace.errorRaised.emit(
            _(
                "A change of {when} to {title} could not be saved and is kept on this "
                "machine – plug in its drive and open {folder}.",
                when=state.when,
                title=state.title,
                folder=state.folder,
            )
        )


def _put_in(workspace: Workspace, state: Unsaved) -> None:
    from rehearse.routine.unsaved import read_unsaved

    assert workspace.folder is not None
    try:
        routine, beatmap = read_unsaved(state, workspace.folder)
    except UserError as error:
        workspace.errorRaised.emit(error.sentence)
        return
    workspace.saving.unsaved = state  # forgotten once it is saved
    workspace.edit(
        _("put in the change of {when}", when=state.when), routine=routine, beatmap=beatmap
    )
    if workspace.saving.saved:
        workspace.saving.succeed(workspace.documents)
    workspace.save()


def _leave_out(workspace: Workspace, state: Unsaved) -> None:
    from rehearse.routine.unsaved import forget_unsaved, read_unsaved

    assert workspace.folder is not None
    try:
        kept = Documents(*read_unsaved(state, workspace.folder))
        keep_version(workspace.folder, kept, f"left out, {state.when}")
    except UserError as error:
        workspace.errorRaised.emit(error.sentence)
        return
    forget_unsaved(state)


def keep_version(folder: Path, state: Documents, name: str) -> None:
    """Keep a state that lies nowhere yet among the versions, under a name.

    Raises:
        UserError: the folder cannot be written.
    """
    assert state.routine is not None
    beats = fingerprint(state.beatmap) if state.beatmap else ""
    keep_data(folder, dump_yaml(routine_data(state.routine, beats)), name)


def ask_to_leave(workspace: Workspace, folder: Path) -> None:
    """The open routine cannot be saved: ask whether to open another one all the same."""
    kept = _("is kept on this machine") if workspace.saving.unsaved else _("will be lost")
    sentence = _(
        "The last change of this routine is not saved; it {kept}. Open the other one?", kept=kept
    )
    answers = (Answer(_("Open it"), "O", partial(workspace.open, folder, unsaved=True)),)
    workspace.questions.ask("leaving", Question(sentence, answers), first=True)


def offer_good_save(workspace: Workspace, folder: Path) -> None:
    """Where the routine itself cannot be read, offer the newest save that can."""
    folder = folder.parent if folder.name == ROUTINE else folder
    version = good_save(folder)
    if version is None:
        return
    sentence = _(
        "{routine} of {name} cannot be read; the save kept until {when_of} can."
        " Open that one? Nothing is thrown away.",
        routine=ROUTINE,
        name=folder.name,
        when_of=when_of(version),
    )
    answers = (Answer(_("Open it"), "O", partial(_open_save, workspace, folder, version)),)
    workspace.questions.ask("good save", Question(sentence, answers))


def _open_save(workspace: Workspace, folder: Path, version: Version) -> None:
    try:
        restore(folder, version)
    except UserError as error:
        workspace.errorRaised.emit(error.sentence)
        return
    workspace.open(folder)

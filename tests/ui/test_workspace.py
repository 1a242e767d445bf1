"""The workspace: documents, undo, autosave, jobs, and the order in which it is left."""

import shutil
import time
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rehearse.files.user_error import UserError
from rehearse.routine.folder import open_folder
from rehearse.ui.saving.autosave import SAVE_AFTER
from rehearse.ui.undo import Documents
from rehearse.ui.workspace import Workspace

from .made import DEMO


@pytest.fixture
def folder(tmp_path):
    return shutil.copytree(DEMO, tmp_path / "copper-lights")


@pytest.fixture
def opened(workspace, folder, qtbot):
    with qtbot.waitSignal(
        workspace.trackChanged, timeout=120_000, check_params_cb=lambda: workspace.track
    ):
        assert workspace.open(folder)
    return workspace


def slow(seconds, report):
    """A job that takes a while; stops when told to."""
    for k in range(int(seconds / 0.02)):
        report(k * 0.02 / seconds, f"step {k}")
        time.sleep(0.02)
    return "done"


def faulty(report):
    """A job with something to put right."""
    raise UserError("the tape is torn", do="splice it")


def test_opening_decodes_the_song_without_stalling_the_window(workspace, folder, qtbot):
    gaps, last = [], time.perf_counter()
    assert workspace.open(folder)
    while workspace.track is None:
        assert time.perf_counter() - last < 20
        before = time.perf_counter()
        qtbot.wait(5)
        gaps.append(time.perf_counter() - before)
    assert workspace.routine.title == "Copper Lights"
    assert workspace.track.duration == pytest.approx(workspace.beatmap.duration, abs=0.01)
    assert sorted(gaps)[len(gaps) // 2] < 0.05


def test_a_folder_that_cannot_be_opened_leaves_the_open_one_untouched(opened, tmp_path, qtbot):
    before = opened.routine
    with qtbot.waitSignal(opened.errorRaised) as told:
        assert not opened.open(tmp_path / "nowhere")
    assert told.args[0].endswith(".")
    assert opened.routine is before


def test_an_edit_is_on_disk_within_two_seconds(opened, qtbot):
    opened.edit("name it", routine=replace(opened.routine, title="Second night"))
    assert SAVE_AFTER <= 2000

    def saved():
        assert open_folder(opened.folder).routine.title == "Second night"

    qtbot.waitUntil(saved, timeout=2000)


def test_undo_and_redo_swap_whole_documents(opened):
    first = opened.routine
    opened.edit("name it", routine=replace(first, title="A"))
    opened.edit("name it again", routine=replace(first, title="B"))
    opened.undo.undo()
    assert opened.routine.title == "A"
    opened.undo.undo()
    assert opened.routine == first
    opened.undo.redo()
    assert opened.routine.title == "A"
    assert opened.undo.undoText() == "name it"


def test_the_steps_of_one_drag_are_undone_as_one(opened):
    first = opened.routine
    for k in range(20):
        opened.edit("drag", routine=replace(first, title=f"{k}"), merge="drag 1")
    opened.edit("drag", routine=replace(first, title="other"), merge="drag 2")
    assert opened.undo.count() == 2
    opened.undo.undo()
    assert opened.routine.title == "19"
    opened.undo.undo()
    assert opened.routine == first


@settings(
    max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(steps=st.lists(st.sampled_from(["edit", "drag", "undo", "redo"]), max_size=12))
def test_any_edits_undone_give_back_the_same_document(workspace, steps):
    from .made import routine, steady

    beatmap = steady()
    workspace.undo.clear()
    workspace._documents = Documents(routine(beatmap), beatmap)
    first = workspace.routine
    for number, step in enumerate(steps):
        if step == "edit":
            workspace.edit("edit", routine=replace(workspace.routine, title=str(number)))
        elif step == "drag":
            workspace.edit(
                "drag", routine=replace(workspace.routine, title=str(number)), merge="one"
            )
        elif step == "undo":
            workspace.undo.undo()
        else:
            workspace.undo.redo()
    while workspace.undo.canUndo():
        workspace.undo.undo()
    assert workspace.routine == first


def test_a_save_that_fails_says_so_and_is_tried_again(opened, qtbot):
    routine_file = opened.folder / "routine.yaml"
    kept = routine_file.read_bytes()
    obstacle = opened.folder / "versions"  # root may write anywhere, so a file stands in the way
    obstacle.write_text("not a folder")
    with qtbot.waitSignal(opened.errorRaised, timeout=3000) as told:
        opened.edit("name it", routine=replace(opened.routine, title="Lost?"))
    assert told.args[0].startswith("Not saved: ")
    obstacle.unlink()
    assert routine_file.read_bytes() == kept
    assert opened.save()
    assert open_folder(opened.folder).routine.title == "Lost?"


def test_jobs_report_bring_results_home_and_can_be_stopped(workspace, qtbot):
    results, texts = [], []
    workspace.jobChanged.connect(lambda: texts.extend(j.text for j in workspace.jobs))
    workspace.run_job("Working", slow, 0.2, done=results.append)
    qtbot.waitUntil(lambda: results == ["done"], timeout=120_000)
    assert any(text.startswith("step") for text in texts)
    running = workspace.run_job("Working", slow, 30.0, done=results.append)
    qtbot.waitUntil(lambda: running.fraction is not None, timeout=120_000)
    workspace.stop_job(running)
    assert workspace.jobs == ()
    qtbot.wait(100)
    assert results == ["done"]


def test_a_faulty_job_is_one_sentence(workspace, qtbot):
    with qtbot.waitSignal(workspace.errorRaised, timeout=120_000) as told:
        workspace.run_job("Working", faulty, done=lambda _: None)
    assert told.args[0] == "The tape is torn – splice it."


def test_opening_another_routine_stops_the_jobs_of_the_first(opened, folder, qtbot):
    results = []
    opened.run_job("Working", slow, 30.0, done=results.append)
    assert any(job.words == "Working" for job in opened.jobs)
    assert opened.open(folder)
    assert all(job.words != "Working" for job in opened.jobs)


def test_it_is_left_in_order(qapp, settings):
    order = []

    class Part:
        def __init__(self, name):
            self.name = name

        def volume(self, kind, gain):
            pass

        def close(self):
            order.append(self.name)

        def join(self, *_):
            return True

    workspace = Workspace(
        settings, make_workers=lambda: Part("workers"), make_player=lambda: Part("player")
    )
    assert workspace.player.name == "player"
    assert workspace.workers.name == "workers"
    workspace.logbook = Part("logbook")
    workspace.close()
    assert order == ["player", "workers", "logbook"]
    assert workspace.undo.count() == 0


def test_why_a_gesture_did_nothing_is_said_until_one_does_something(opened):
    said = []
    opened.errorRaised.connect(said.append)
    opened.notice.say("There is no pose here.")
    opened.edit("name it", routine=replace(opened.routine, title="A"))
    assert said == ["There is no pose here.", ""]
    opened.notice.say("There is no pose here.")
    opened.errorRaised.emit("Not saved: the disk is full.")
    opened.edit("name it", routine=replace(opened.routine, title="B"))
    assert said[-1] == "Not saved: the disk is full."

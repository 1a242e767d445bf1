"""Jobs of the window: whatever becomes of one, the screen hears of it."""

import pytest

from rehearse.ui.jobs import Jobs
from rehearse.work.pool import Workers


def broken(report):
    """A job with a mistake nobody foresaw."""
    raise ZeroDivisionError("division by zero")


@pytest.fixture
def workers(qapp):
    pool = Workers(1)
    yield pool
    pool.close()


@pytest.mark.expects_log
def test_a_failure_nobody_foresaw_reaches_whoever_waits_as_one_sentence(workers, qtbot, caplog):
    jobs, told = Jobs(lambda: workers), []
    jobs.start("Making the sheet", broken, done=told.append, failed=told.append)
    qtbot.waitUntil(lambda: bool(told), timeout=120_000)
    (error,) = told
    assert error.sentence == "Making the sheet: stopped by a mistake in the program – try again."
    assert jobs.running == ()
    assert "in broken" in caplog.text  # where it rose is in the log, not on the screen


@pytest.mark.expects_log
def test_it_reaches_the_fault_line_when_nobody_waits(workers, qtbot):
    jobs = Jobs(lambda: workers)
    with qtbot.waitSignal(jobs.failed, timeout=120_000) as told:
        jobs.start("Reading the song", broken, done=lambda _: None)
    assert told.args[0].startswith("Reading the song: stopped")
    assert "division" not in told.args[0]


@pytest.mark.expects_log
def test_workers_that_cannot_take_a_job_leave_none_in_progress(qapp, qtbot):
    pool = Workers(1)
    pool.close()
    jobs, told = Jobs(lambda: pool), []
    jobs.start("Making the sheet", broken, done=told.append, failed=told.append)
    qtbot.waitUntil(lambda: bool(told), timeout=5_000)
    assert jobs.running == ()

"""Worker processes in a system short of everything: jobs are finished, nobody waits for ever."""

import subprocess
import threading
import time

import pytest

from rehearse.files.user_error import UserError
from rehearse.work import child as child_module
from rehearse.work import pool as module
from rehearse.work.child import Child
from rehearse.work.pool import Workers


@pytest.fixture
def workers(jobs):
    pool = Workers(1)
    yield pool
    pool.close()


def _refused(*_arguments, **_more):
    raise OSError(11, "Resource temporarily unavailable")


def test_a_worker_that_cannot_be_started_ends_its_job_and_the_next_one_is_done(
    workers, jobs, monkeypatch
):
    with monkeypatch.context() as refusing:
        refusing.setattr(subprocess, "Popen", _refused)
        with pytest.raises(
            UserError, match="could not be started – close other programs"
        ) as caught:
            workers.submit(jobs.identity, 1).result(5)
        assert isinstance(caught.value.__cause__, OSError)
    assert workers.submit(jobs.identity, 2).result(20) == 2


def test_no_thread_to_spare_ends_the_job_with_the_same_sentence(workers, jobs, monkeypatch):
    def no_more(_thread):
        raise RuntimeError("can't start new thread")

    with monkeypatch.context() as refusing:
        refusing.setattr(threading.Thread, "start", no_more)
        job = workers.submit(jobs.identity, 1)
    with pytest.raises(UserError, match="could not be started"):
        job.result(5)
    assert workers.submit(jobs.identity, 2).result(20) == 2


def test_whoever_submits_does_not_wait_for_a_slow_start(workers, jobs, monkeypatch):
    starting, go_on, popen = threading.Event(), threading.Event(), subprocess.Popen

    def slow(*arguments, **more):
        starting.set()
        go_on.wait(10)
        return popen(*arguments, **more)

    monkeypatch.setattr(subprocess, "Popen", slow)
    first = workers.submit(jobs.identity, 1)
    assert starting.wait(5)
    second: list = []
    other = threading.Thread(target=lambda: second.append(workers.submit(jobs.identity, 2)))
    other.start()
    other.join(2)
    waited = other.is_alive()
    go_on.set()
    other.join(10)
    assert not waited
    assert [first.result(20), second[0].result(20)] == [1, 2]


def test_what_a_broken_conversation_left_is_not_the_next_answer(workers, jobs):
    def broken(_fraction, _text):
        raise RuntimeError("the window is gone")

    with pytest.raises(RuntimeError, match="the window is gone"):
        workers.submit(jobs.chatty, on_progress=broken).result(20)
    assert workers.submit(jobs.identity, "mine").result(20) == "mine"


def _stuck(child):
    """As one that hangs in a driver: it cannot be killed. Returns what kills it after all."""
    kill = child.process.kill
    child.process.kill = lambda: None
    return kill


def test_a_process_that_does_not_die_holds_nobody_up(jobs, monkeypatch):
    monkeypatch.setattr(child_module, "_DYING", 0.2)
    child = Child("rehearse.work.serve:serve")
    kill = _stuck(child)
    try:
        begin = time.monotonic()
        child.end()
        assert time.monotonic() - begin < 2.0
    finally:
        kill()
    child.close_output()


def test_closing_the_pool_does_not_wait_for_a_process_that_does_not_die(jobs, monkeypatch):
    monkeypatch.setattr(child_module, "_DYING", 0.2)
    monkeypatch.setattr(module, "_CLOSING", 0.3)
    pool = Workers(1)
    pool.submit(jobs.identity, 1).result(20)
    (child,) = pool._children
    pool.submit(jobs.deaf, 600)
    kill = _stuck(child)
    try:
        begin = time.monotonic()
        pool.close()
        assert time.monotonic() - begin < 2.0
    finally:
        kill()

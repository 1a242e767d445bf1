"""Worker processes: results, progress, stopping, faults, crashes, no orphans."""

import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import numpy as np
import pytest

from rehearse.files.user_error import UserError, UserErrors
from rehearse.music.track import Track
from rehearse.work.pool import Stopped, Workers

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def workers(jobs):
    pool = Workers(1)
    yield pool
    pool.close()


def _wait(condition, seconds=20.0):
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if condition():
            return True
        time.sleep(0.02)
    return False


def test_large_arrays_come_back_whole(workers, jobs):
    array = np.random.default_rng(1).standard_normal((300_000, 2)).astype(np.float32)
    assert np.array_equal(workers.submit(jobs.double, array).result(30), array * 2)


def test_a_track_survives_the_trip(workers, jobs):
    samples = np.random.default_rng(2).standard_normal((44_100, 2)).astype(np.float32)
    samples.setflags(write=False)
    back = workers.submit(jobs.identity, Track(samples, 44_100, "abc", "song")).result(30)
    assert (back.sample_rate, back.content_hash, back.title) == (44_100, "abc", "song")
    assert np.array_equal(back.samples, samples)
    assert back.samples.flags.c_contiguous


def test_progress_is_reported_in_order_up_to_the_end(workers, jobs):
    seen = []
    job = workers.submit(jobs.slow_count, 30, 0.02, on_progress=lambda f, t: seen.append((f, t)))
    assert job.result(30) == 30
    assert seen[-1] == (1.0, "done")
    assert seen == sorted(seen, key=lambda pair: pair[0])
    assert 5 <= len(seen) <= 31


def test_a_running_job_stops_at_its_next_report(workers, jobs):
    started = threading.Event()
    job = workers.submit(jobs.slow_count, 10_000, 0.01, on_progress=lambda *_: started.set())
    assert started.wait(20)
    job.cancel()
    with pytest.raises(Stopped):
        job.result(5)
    assert workers.submit(jobs.identity, 7).result(20) == 7


def test_a_waiting_job_is_stopped_before_it_starts(jobs):
    pool = Workers(1)
    try:
        first = pool.submit(jobs.slow_count, 20, 0.02)
        second = pool.submit(jobs.slow_count, 10_000, 1)
        second.cancel()
        assert first.result(30) == 20
        with pytest.raises(Stopped):
            second.result(5)
    finally:
        pool.close()


def test_a_job_that_never_reports_is_ended_with_its_process(jobs, monkeypatch):
    pool = Workers(1)
    try:
        job = pool.submit(jobs.deaf, 600)
        assert _wait(lambda: pool._children)
        time.sleep(0.5)
        job.cancel()
        with pytest.raises(Stopped):
            job.result(20)
        assert pool.submit(jobs.identity, 1).result(20) == 1
    finally:
        pool.close()


def test_faults_pass_through_unchanged(workers, jobs):
    with pytest.raises(UserError) as caught:
        workers.submit(jobs.faulty).result(20)
    assert caught.value.sentence == "song.ogg: the song is silent – choose another."
    assert str(caught.value) == caught.value.sentence
    with pytest.raises(UserErrors) as caught:
        workers.submit(jobs.several_faults).result(20)
    assert caught.value.sentence == "One is wrong.\nb: two is wrong – mend it."


def test_other_errors_keep_their_kind_and_say_where_they_rose(workers, jobs):
    with pytest.raises(ValueError, match="no such thing") as caught:
        workers.submit(jobs.value_error).result(20)
    assert "in value_error" in "".join(caught.value.__notes__)


def test_an_error_that_cannot_travel_is_described(workers, jobs):
    with pytest.raises(RuntimeError, match="Odd: 12"):
        workers.submit(jobs.odd_error).result(20)


def test_an_argument_that_cannot_travel_is_the_callers_error(workers, jobs):
    with pytest.raises((TypeError, AttributeError)):
        workers.submit(jobs.identity, threading.Lock()).result(20)
    assert workers.submit(jobs.identity, 1).result(20) == 1


def test_a_crash_is_one_sentence_and_the_next_job_runs(workers, jobs):
    with pytest.raises(UserError, match="helper process ended"):
        workers.submit(jobs.die).result(20)
    assert workers.submit(jobs.identity, "again").result(20) == "again"


def test_a_worker_that_ended_while_idle_is_not_given_the_next_job(workers, jobs):
    first = workers.submit(jobs.process_id).result(30)
    os.kill(first, signal.SIGKILL)  # as a system short of memory does
    assert _wait(lambda: os.waitid(os.P_PID, first, os.WEXITED | os.WNOHANG | os.WNOWAIT))
    assert workers.submit(jobs.process_id).result(30) != first


def test_what_a_library_prints_does_no_harm(workers, jobs):
    assert workers.submit(jobs.noisy).result(20) == "fine"


def test_workers_do_not_load_the_window(workers, jobs):
    modules = workers.submit(jobs.loaded_modules).result(20)
    assert not [m for m in modules if m.startswith(("PySide6", "librosa", "sounddevice"))]


def test_closing_ends_processes_and_stops_what_is_left(jobs):
    pool = Workers(1)
    pid = pool.submit(jobs.pid).result(20)
    job = pool.submit(jobs.slow_count, 10_000, 0.01)
    pool.close()
    with pytest.raises(Stopped):
        job.result(5)
    assert not os.path.exists(f"/proc/{pid}") or sys.platform != "linux"
    with pytest.raises(RuntimeError, match="closed"):
        pool.submit(jobs.pid)


@pytest.mark.skipif(os.name != "posix", reason="POSIX signals")
def test_workers_die_with_a_killed_parent(jobs):
    code = (
        f"import sys; sys.path.insert(0, {str(Path(jobs.__file__).parent)!r})\n"
        "import time, work_jobs as jobs\n"
        "from rehearse.work.pool import Workers\n"
        "pool = Workers(1)\n"
        "print(pool.submit(jobs.pid).result(20), flush=True)\n"
        "pool.submit(jobs.deaf, 600)\n"
        "time.sleep(600)\n"
    )
    parent = subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True)
    worker = int(parent.stdout.readline())
    time.sleep(0.3)
    parent.send_signal(signal.SIGKILL)
    parent.wait()
    parent.stdout.close()
    assert _wait(lambda: not _runs(worker), 5)


def _runs(pid):
    try:
        state = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0]
    except FileNotFoundError:
        return False
    return state != "Z"


@pytest.mark.skipif(os.name != "posix", reason="a script stands in for the packaged program")
def test_a_packaged_program_is_its_own_worker(jobs, tmp_path, monkeypatch):
    """It has no interpreter to be started with code: it starts itself, which must not open it."""
    program, asked = tmp_path / "rehearse", tmp_path / "asked"
    python = f"PYTHONPATH={ROOT}:{Path(jobs.__file__).parent} {sys.executable}"
    program.write_text(f'#!/bin/sh\necho "$1" > {asked}\n{python} -m rehearse "$@"\n')
    program.chmod(0o755)
    monkeypatch.setattr(sys, "frozen", True, raising=False)
    monkeypatch.setattr(sys, "executable", str(program))
    pool = Workers(1)
    try:
        assert pool.submit(jobs.identity, 5).result(20) == 5
    finally:
        pool.close()
    assert asked.read_text().strip() == "--child-process"

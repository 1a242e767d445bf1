"""Arrays in shared memory: exact, read-only, cleaned up."""

import gc
import os
import pickle
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from rehearse.work import shared
from rehearse.work.shared import Shared, dumps, loads


@settings(max_examples=50, deadline=None)
@given(
    hnp.arrays(
        st.sampled_from([np.float32, np.float64, np.int16, np.uint8]),
        hnp.array_shapes(min_dims=1, max_dims=3, min_side=0, max_side=9),
    )
)
def test_an_array_reads_the_same_from_its_handle(array):
    handle = pickle.loads(pickle.dumps(Shared(array)))
    original = Shared(array)
    for each in (original.array, pickle.loads(pickle.dumps(original)).array):
        assert each.dtype == array.dtype
        assert each.shape == array.shape
        assert each.tobytes() == array.tobytes()
        assert not each.flags.writeable or array.size == 0
    del handle


def test_strided_input_is_copied_in_order():
    array = np.arange(60, dtype=np.float32).reshape(6, 10)[:, ::3].T
    assert np.array_equal(Shared(array).array, array)


def test_a_worker_reads_it_without_a_copy(jobs):
    from rehearse.work.pool import Workers

    pool = Workers(1)
    try:
        handle = Shared(np.ones((100_000, 2), np.float32))
        assert pool.submit(jobs.total, handle).result(30) == 200_000
    finally:
        pool.close()


def test_arrays_outlive_their_block_and_the_block_its_maker_does_not():
    handle = Shared(np.arange(50_000, dtype=np.float32))
    path, array = Path(handle._path), handle.array
    assert path.exists()
    del handle
    gc.collect()
    assert not path.exists()
    assert array[-1] == 49_999
    with pytest.raises(FileNotFoundError):
        _ = shared._open(str(path), (50_000,), "<f4").array


def test_large_parts_of_any_object_travel_in_one_block_that_is_then_gone():
    value = {"a": np.arange(40_000, dtype=np.float64), "b": (np.ones(3), "text"), "c": b"x" * 10}
    value["d"] = np.asfortranarray(np.random.default_rng(0).random((300, 200)))
    message, path, sizes = dumps(value)
    assert len(message) < 2_000
    assert len(sizes) == 2
    back = loads(message, path, sizes)
    assert not os.path.exists(path)
    assert np.array_equal(back["a"], value["a"])
    assert np.array_equal(back["d"], value["d"])
    assert back["b"][1] == "text"


def test_a_full_memory_file_system_falls_back_to_the_temporary_folder(monkeypatch, tmp_path):
    if not os.path.exists("/dev/full"):
        pytest.skip("needs /dev/full")
    real = os.fdopen
    failed = []

    def full_once(handle, mode):
        if not failed:
            failed.append(True)
            os.close(handle)
            return real(os.open("/dev/full", os.O_WRONLY), mode)
        return real(handle, mode)

    monkeypatch.setattr(shared, "_roots", lambda: [tmp_path / "a", tmp_path / "b"])
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    monkeypatch.setattr(shared.os, "fdopen", full_once)
    handle = Shared(np.arange(100_000, dtype=np.float32))
    monkeypatch.undo()
    assert handle._path.startswith(str(tmp_path / "b"))
    assert handle.array[99_999] == 99_999


@pytest.mark.skipif(os.name != "posix", reason="processes are told apart by POSIX ids")
def test_what_a_killed_process_left_is_swept(tmp_path):
    code = (
        "import os, numpy as np\n"
        "from rehearse.work.shared import Shared\n"
        "handle = Shared(np.ones(100_000, np.float32)); print(handle._path, flush=True)\n"
        "os.kill(os.getpid(), 9)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True)
    left = Path(done.stdout.strip())
    assert left.exists()
    shared._sweep(left.parent.parent)
    assert not left.exists()

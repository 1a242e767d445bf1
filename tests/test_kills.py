"""A sample of `tests.bench.kills`: ended at any moment, nothing that was reported kept is lost."""

import shutil
import sys

import pytest

from tests.bench.kills import Bench


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="processes are told by /proc")
@pytest.mark.parametrize("way", ["save", "player"])
def test_a_process_is_ended(way):
    bench = Bench(seed=7)
    try:
        bench.run(way, 0)
    finally:
        shutil.rmtree(bench.home, ignore_errors=True)
    assert bench.losses == []

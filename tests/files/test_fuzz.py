"""A sample of the fuzz bench: two hundred hostile files, the same ones every time."""

from __future__ import annotations

import sys

import pytest

from tests.bench import fuzz
from tests.helpers.fuzz.cases import KINDS


@pytest.mark.skipif(sys.platform != "linux", reason="memory and sockets are told by Linux")
def test_no_hostile_file_breaks_out_or_breaks_the_program(capsys):
    counts = fuzz.run(range(80), seed=7, processes=1, tell=False)
    told = capsys.readouterr().out
    assert not any(counts[bad] for bad in fuzz.BAD), told
    assert counts["clean"] + counts["fault"] == 80
    assert counts["clean"] > 12
    assert counts["fault"] > 50
    assert counts["command"] > 6
    for kind in KINDS:
        assert counts[f"{kind} clean"] + counts[f"{kind} fault"] > 0


@pytest.mark.parametrize(
    ("case", "bad"),
    [
        ({"outcome": "traceback"}, ["traceback"]),
        ({"busy": 2.5, "wall": 2.5}, ["slow"]),
        ({"wall": 5.0}, ["slow"]),
        ({"wall": 5.0, "crowded": 4.5}, []),
        ({"wall": 12.0, "crowded": 12.0}, ["slow"]),
        ({"wall": 60.0}, ["slow"]),  # it waits for ever: for a pipe, or for the network
        ({"outcome": "hung"}, ["slow"]),
        ({"peak": 1_100_000_000}, ["large"]),
        ({"changed": ["outside the folder"]}, ["changed"]),
        ({}, []),
    ],
)
def test_what_is_bad_is_counted(case, bad):
    usual = {"outcome": "clean", "wall": 0.1, "busy": 0.1, "crowded": 0.0, "peak": 10**8}
    usual["changed"] = []

    class Child:
        def run(self, seed, number, sound=False):
            return usual if sound else usual | case

    assert fuzz.judged(Child(), 1, 1)[1] == bad


def test_a_busy_machine_is_told_from_a_slow_file():
    found = {"outcome": "clean", "wall": 6.0, "busy": 0.2, "crowded": 0.0, "peak": 10**8}
    found["changed"] = []

    class Busy:
        def run(self, seed, number, sound=False):
            return dict(found)

    assert fuzz.judged(Busy(), 1, 1)[1] == []

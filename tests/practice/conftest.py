"""The invented routine of `made.py`, its poses in the music, and an empty logbook."""

import pytest

from rehearse.practice.logbook import Logbook
from rehearse.practice.scope import spots_of

from . import made


@pytest.fixture(scope="session")
def beatmap():
    return made.make_beatmap()


@pytest.fixture(scope="session")
def routine():
    return made.make_routine()


@pytest.fixture(scope="session")
def spots(routine, beatmap):
    return spots_of(routine, beatmap)


@pytest.fixture
def book(tmp_path):
    with Logbook(tmp_path / "practice.sqlite", tmp_path / "spare.sqlite") as opened:
        yield opened

"""Fixtures of the window's tests: an application in our face, settings that touch no one's home."""

import os

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import pytest

from rehearse.ui.desk import Desk
from rehearse.ui.settings import Settings


@pytest.fixture(scope="session")
def qapp():
    from rehearse.app import make_application

    return make_application(["rehearse"])


@pytest.fixture
def settings(tmp_path):
    return Settings(tmp_path / "settings.ini")


@pytest.fixture
def desk(qapp, settings):
    desk = Desk(settings)
    yield desk
    desk.close()

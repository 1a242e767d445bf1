"""Fixtures of the window's tests: an application in our face, settings that touch no one's home."""

import gc
import os

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import pytest
from PySide6.QtCore import QCoreApplication, QEvent
from PySide6.QtWidgets import QApplication

from rehearse.ui import theme
from rehearse.ui.growth import style
from rehearse.ui.settings import Settings
from rehearse.ui.workspace import Workspace
from tests.helpers import shared_workers

_tests = 0


@pytest.fixture(autouse=True)
def collected_in_the_windows_thread():
    """Widgets are taken apart where they were made: a thread of the logbook's must not do it."""
    global _tests
    gc.disable()
    yield
    _tests += 1
    gc.collect(2 if _tests % 20 == 0 else 1)
    gc.enable()


@pytest.fixture(scope="session")
def qapp():
    from rehearse.app import make_application

    return make_application(["rehearse"])


@pytest.fixture
def settings(tmp_path):
    return Settings(tmp_path / "settings.ini")


@pytest.fixture(scope="session")
def worker_processes():
    """Real ones, for all workspaces that do not ask for their own."""
    workers = shared_workers.started()
    yield workers
    workers.close()


@pytest.fixture
def workspace(qapp, settings, worker_processes):
    workspace = Workspace(
        settings, make_workers=lambda: shared_workers.SharedWorkers(worker_processes)
    )
    yield workspace
    workspace.close()


@pytest.fixture(autouse=True)
def small_again(request):
    """A test's windows are gone, and text that grew with them is small again for the next one.

    Windows that are closed wait for an event loop to delete them, and there is none between two
    tests: they were styled anew with every later window of another size.
    """
    yield
    QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
    if theme.scale() != 1.0 and "windows" not in request.fixturenames:
        theme.set_scale(1.0)
        QApplication.instance().setStyleSheet(style())

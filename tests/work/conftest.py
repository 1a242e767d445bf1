"""The job functions must be importable by name in the worker processes."""

import sys
from pathlib import Path

import pytest


@pytest.fixture(scope="session")
def jobs():
    folder = str(Path(__file__).parent)
    sys.path.insert(0, folder)
    try:
        import work_jobs as module

        yield module
    finally:
        sys.path.remove(folder)

"""Worker processes that serve the tests of many windows: each has to load its libraries."""

import threading
import time

from rehearse.work.pool import Workers

_pools: list[Workers] = []


class SharedWorkers:
    """The workers of one workspace; what they were asked for ends with it, the processes do not."""

    def __init__(self, workers):
        self._workers, self._jobs = workers, []

    def submit(self, function, *args, on_progress=None):
        job = self._workers.submit(function, *args, on_progress=on_progress)
        self._jobs.append(job)
        return job

    def close(self):
        for job in self._jobs:
            if not job.done():
                job.cancel()


def started():
    """A pool whose two processes are there before any test begins."""
    workers = Workers()
    for job in [workers.submit(linger), workers.submit(linger)]:
        job.result(60)
    _pools.append(workers)
    return workers


def linger(report):
    """Keep a process long enough for the other one to be needed as well."""
    time.sleep(0.3)


def threads():
    """Threads of these processes, those that were started anew included."""
    found: set[threading.Thread] = set()
    for workers in _pools:
        found.update(workers._threads)
        found.update(child._writer for child in tuple(workers._children))
    return found

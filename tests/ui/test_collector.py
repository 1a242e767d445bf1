"""Garbage is collected in the window's thread only, whatever other threads do."""

import gc
import threading

from rehearse.ui.startup import Collector


class _Knot:
    """Garbage that only the collector finds; notes which thread took it apart."""

    def __init__(self, seen):
        self.seen, self.me = seen, self

    def __del__(self):
        self.seen.append(threading.get_ident())


def _busy(kept):
    """Ask for as much memory as makes Python collect a hundred times on its own."""
    for _ in range(70_000):
        kept.append([])


def test_another_thread_takes_nothing_apart(qapp):
    seen: list[int] = []
    kept: list[list] = []
    collector = Collector(qapp)
    try:
        assert not gc.isenabled()
        for _ in range(50):
            _Knot(seen)
        thread = threading.Thread(target=_busy, args=(kept,))
        thread.start()
        thread.join()
        assert seen == []
        collector.look()  # 70,000 objects more than the last time: due
        assert seen
        assert set(seen) == {threading.get_ident()}
    finally:
        collector.deleteLater()
        gc.enable()

"""A process that hands passes to a keeper until it is killed, telling each once it is kept."""

import sys
from datetime import timedelta
from pathlib import Path

from rehearse.practice.keeper import Keeper
from tests.practice.made import MONDAY, make_pass


def main(path, number):
    keeper = Keeper(path, fallback=path.with_name(f"spare {number}.sqlite"))
    keeper.settle()
    print("open", flush=True)
    at = MONDAY + timedelta(days=number)
    while True:
        at += timedelta(seconds=20)
        done = make_pass(at)
        print("began", done.id, flush=True)
        keeper.record(done)
        keeper.settle()
        print("kept", done.id, flush=True)


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]))

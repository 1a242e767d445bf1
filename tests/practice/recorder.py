"""A process that records passes until it is killed, telling each one the moment it is kept."""

import random
import sys
from datetime import timedelta

from rehearse.practice.logbook import Logbook
from tests.practice.made import MONDAY, make_pass


def main(path, number):
    draw = random.Random(number)
    at = MONDAY + timedelta(days=number)
    with Logbook(path) as book:
        print("open", flush=True)
        while True:
            at += timedelta(seconds=20)
            done = make_pass(at, verdict=draw.choice((None, "clean")))
            print("began", done.id, flush=True)
            book.record(done)
            print("kept", done.id, done.verdict, flush=True)
            if draw.random() < 0.4:
                book.judge(done.id, "missed")
                print("kept", done.id, "missed", flush=True)


if __name__ == "__main__":
    from pathlib import Path

    main(Path(sys.argv[1]), int(sys.argv[2]))

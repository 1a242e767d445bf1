"""Functions the tests run in worker processes."""

import os
import time

import numpy as np

from rehearse.files.user_error import UserError, UserErrors


def double(array, report):
    return array * 2


def identity(value, report):
    return value


def process_id(report):
    return os.getpid()


def slow_count(steps, pause, report):
    for step in range(steps):
        report(step / steps, f"step {step}")
        time.sleep(pause)
    report(1.0, "done")
    return steps


def deaf(seconds, report):
    time.sleep(seconds)


def faulty(report):
    raise UserError("the song is silent", where="song.ogg", do="choose another")


def several_faults(report):
    raise UserErrors(
        [UserError("one is wrong"), UserError("two is wrong", where="b", do="mend it")]
    )


class Odd(Exception):
    def __init__(self, a, b):
        super().__init__(f"{a}{b}")
        self.handle = lambda: None


def odd_error(report):
    raise Odd(1, 2)


def value_error(report):
    raise ValueError("no such thing")


def die(report):
    os._exit(3)


def pid(report):
    return os.getpid()


def noisy(report):
    print("a library that prints")
    os.write(1, b"straight to the descriptor\n")
    return "fine"


def loaded_modules(report):
    import sys

    return sorted(sys.modules)


def total(shared, report):
    return float(np.sum(shared.array, dtype=np.float64))


def chatty(report):
    report(1.0, "half of it")
    time.sleep(0.2)
    return "an answer nobody waits for"

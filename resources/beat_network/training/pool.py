"""Work shared among all processors, each with the scores and the fonts loaded once."""

from __future__ import annotations

import multiprocessing
import os
from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any, TypeVar

import numpy as np

from training.arrange import can_play
from training.piece import Rng
from training.render import Fonts
from training.scores import Score, load_scores

Made = TypeVar("Made")
#: Seeds of one piece of work.
Job = tuple[int, int]
RATE = 22050

_worker: dict[str, Any] = {}


def made(
    make: Callable[[Rng, Sequence[Score], Fonts], Made],
    jobs: Iterable[Job],
    scores: Path,
    fonts: Sequence[Path],
) -> Iterator[Made]:
    """What `make` makes of each job's own seed, in the order of the jobs.

    Args:
        make: given a generator, the scores that can be played, and the fonts; found by its name.
    """
    context = multiprocessing.get_context("spawn")
    with context.Pool(os.cpu_count(), _start, (make, scores, fonts)) as pool:
        yield from pool.imap(_make, jobs, chunksize=2)


def _start(make: Callable[..., Any], scores: Path, fonts: Sequence[Path]) -> None:
    # Each reads the scores itself: a worker that is handed much starts only after the one before.
    playable = [s for s in load_scores(scores) if can_play(s)]
    _worker.update(make=make, scores=playable, fonts=Fonts(fonts, RATE))


def _make(job: Job) -> Any:
    return _worker["make"](np.random.default_rng(job), _worker["scores"], _worker["fonts"])

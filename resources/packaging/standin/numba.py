"""Stands in for numba in the packaged folder, which would weigh 180 MB more with it.

librosa imports numba for inner loops that this program never calls: it takes a filter bank and
cepstra from it (`music/analysis/likeness.py`), which are NumPy alone. Loops that Python can run
as they stand stay as they are; those that cannot say so when they are called.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

_Function = Callable[..., Any]

uint32 = np.uint32


def jit(*given: Any, **options: Any) -> Any:
    """The function as it is."""
    return given[0] if given and callable(given[0]) else lambda function: function


njit = jit


def vectorize(*given: Any, **options: Any) -> Any:
    """NumPy's own, slower."""
    return np.vectorize(given[0]) if given and callable(given[0]) else np.vectorize


def _missing(function: _Function) -> _Function:
    def call(*_: Any, **__: Any) -> Any:
        raise NotImplementedError(f"{function.__name__} needs numba, which is not packaged")

    return call


def guvectorize(*given: Any, **options: Any) -> Callable[[_Function], _Function]:
    """Not to be had without the compiler."""
    return _missing


def stencil(*given: Any, **options: Any) -> Any:
    """Not to be had without the compiler."""
    return _missing(given[0]) if given and callable(given[0]) else _missing

"""Arrays that are used again from block to block."""

from __future__ import annotations

import math
import threading
from typing import Any

import numpy as np
from numpy.typing import DTypeLike, NDArray


class Scratch(threading.local):
    """Work arrays by name, one set a thread.

    Touching fresh memory costs more than the arithmetic done in it: a page that the system has to
    hand out first takes as long as some thousand products. What is returned holds whatever the
    last user left, and is overwritten when the same name is asked for again in the same thread.
    """

    def __init__(self) -> None:
        self._arrays: dict[tuple[str, str], NDArray[Any]] = {}

    def array(
        self, name: str, shape: tuple[int, ...], dtype: DTypeLike = np.float32
    ) -> NDArray[Any]:
        """An array of this shape with arbitrary contents."""
        size = math.prod(shape)
        key = name, np.dtype(dtype).str
        held = self._arrays.get(key)
        if held is None or held.size < size:
            held = self._arrays[key] = np.empty(size + size // 4, dtype=dtype)
        return held[:size].reshape(shape)

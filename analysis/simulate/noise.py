"""White noise that comes out the same on every machine and with every numpy.

numpy promises the raw stream of a bit generator for good (NEP 19, "Random number generator
policy"; the distributions of `Generator` may change from release to release). So raw 64-bit words
of Philox are taken, and turned to a normal distribution here (Box & Muller, Ann. Math. Statist.
29, 1958). Logarithm and cosine may differ in their last bit between processors; rounding to counts
takes that away.
"""

from __future__ import annotations

import hashlib

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_WORDS_PER_COUNTER = 4  # Philox4x64 gives four words a step of its counter


class WhiteNoise:
    """Normal deviates with a standard deviation of one, by sample number.

    Args:
        seed: of the recipe.
        stream: a name; streams of different names are independent.
    """

    def __init__(self, seed: int, stream: str) -> None:
        digest = hashlib.sha256(f"{seed}/{stream}".encode()).digest()
        self._key = int.from_bytes(digest[:16], "little")

    def read(self, start: int, stop: int) -> Floats:
        """Deviates of samples `start <= i < stop`; the same however they are cut into blocks."""
        # Two words make two deviates, so that sample i comes from the pair at word i - i % 2.
        first = start // _WORDS_PER_COUNTER
        last = -(-stop // _WORDS_PER_COUNTER)
        words = np.random.Philox(key=self._key, counter=first).random_raw(
            (last - first) * _WORDS_PER_COUNTER
        )
        # 53 bits, in (0, 1]: the logarithm needs it above zero.
        uniform = ((words >> np.uint64(11)).astype(np.float64) + 1.0) * 2.0**-53
        radius = np.sqrt(-2.0 * np.log(uniform[0::2]))
        angle = 2.0 * np.pi * uniform[1::2]
        out = np.empty(len(uniform))
        out[0::2] = radius * np.cos(angle)
        out[1::2] = radius * np.sin(angle)
        skipped = start - first * _WORDS_PER_COUNTER
        return out[skipped : skipped + (stop - start)]

"""How even a column of times is, worked out block by block while each is still at hand.

A second pass over all the times costs more than the numbers of a channel do. A block's largest
distance from the straight line between its own ends, and those ends, say enough of nearly every
file: only times that they leave in doubt are looked at again, one by one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.model.capture import Floats


@dataclass(frozen=True)
class TimeFacts:
    """The times of a block: how many, the first and the last, s, and the bend.

    `bend` is the largest distance, s, of a time from the straight line between the first and the
    last of the block. NaN where a time is missing.
    """

    rows: int
    first: float
    last: float
    bend: float


# Times as large as numbers can be overflow; the infinity or NaN that comes of it proves nothing.
@np.errstate(over="ignore", invalid="ignore")
def time_facts(pieces: Sequence[Floats]) -> TimeFacts:
    """The facts of the times of one block, s, in order; `pieces` are the parts of its column."""
    rows = sum(len(piece) for piece in pieces)
    if not rows:
        return TimeFacts(0, math.nan, math.nan, math.nan)
    first, last = float(pieces[0][0]), float(pieces[-1][-1])
    step = (last - first) / max(rows - 1, 1)
    bend, done = 0.0, 0
    for piece in pieces:
        off = np.arange(done, done + len(piece), dtype=np.float64)
        off *= step
        off -= piece
        # NaN comes through `maximum`, not through the comparisons of Python's own `max`.
        bend = float(np.maximum(bend, np.maximum(off.max() + first, -off.min() - first)))
        done += len(piece)
    return TimeFacts(rows, first, last, bend)


@np.errstate(over="ignore", invalid="ignore")
def at_most_off(facts: Sequence[TimeFacts]) -> float:
    """A bound on how far, s, any time lies off an even spacing between the first and the last.

    Between the ends of a block the line of the whole and that of the block drift apart evenly, so
    that no time lies further off than the bend and the larger distance of the two ends together.
    NaN where a time is missing.
    """
    rows, first, last, bend = (
        np.array([getattr(block, name) for block in facts])
        for name in ("rows", "first", "last", "bend")
    )
    starts = np.cumsum(rows) - rows
    interval = (last[-1] - first[0]) / max(int(rows.sum()) - 1, 1)
    at_first = np.abs(first - (first[0] + starts * interval))
    at_last = np.abs(last - (first[0] + (starts + rows - 1) * interval))
    return float(np.max(bend + np.maximum(at_first, at_last)))

"""A response as curves that a picture can show: one a passage, thinned to its pixel columns.

What is kept are measured points, never means of them: in each column those with the least and the
largest amplitude.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from analysis.model.response_results import (
    Direction,
    PassageResponse,
    Response,
    ResponsePoints,
    SlowRoll,
)
from analysis.model.results import Bools, Complexes, Floats, Ints
from analysis.rotor.response.passages import passages_of
from analysis.rotor.response.slow_roll import compensated
from analysis.rotor.response.smoothing import moving_average

RunAxis = Literal["speed", "time"]

_NEIGHBOURS = 15
"""Points whose mean vector says on which turn of the circle a lag is told."""

_FEWEST_COLUMNS = 150
_ABOVE_NOISE = 3.0
"""A phase lag is told where the amplitude is at least this many times its noise (common practice:
below, the lag is that of the noise)."""


@dataclass(frozen=True, eq=False)
class RunTrace:
    """One passage of one probe, shapes (n,), in the order in which it was run through.

    `vectors` are compensated, `raw` as measured, µm p-p. `lag_deg` is the unwrapped lag of
    `vectors`, NaN where the amplitude is lost in noise. `time_s` is NaN without times. `thinned`:
    some points between were left out.
    """

    probe: str
    order: int
    direction: Direction
    time_s: Floats
    speed_rpm: Floats
    vectors: Complexes
    raw: Complexes
    lag_deg: Floats
    thinned: bool


def points_only(name: str, raw: ResponsePoints, slow_roll: SlowRoll | None) -> Response:
    """A response before anything is looked for in it: points and passages, no curves.

    Orders other than the first have no critical speeds; this is all there is to tell of them.
    """
    points = compensated(raw, slow_roll)
    empty, none = np.empty(0), np.empty(0, dtype=np.complex128)
    passages = tuple(
        PassageResponse(each, empty, none, empty, None, (), ()) for each in passages_of(points)
    )
    return Response(name, raw, points, slow_roll, passages, (), (), 1)


def traces_of(
    response: Response,
    axis: RunAxis = "speed",
    columns: int = 600,
    beside: RunTrace | None = None,
) -> tuple[RunTrace, ...]:
    """The curves of a response, one a passage; one for all where the speed stays.

    Args:
        response: of one probe or direction.
        axis: what is shown across; the columns are of its pixels.
        columns: pixel columns of the picture; a trace has at most two points for each.
        beside: a passage that they are laid over; lags are told near its own.
    """
    points = response.compensated
    legs: list[tuple[Direction, Ints]] = [
        (each.passage.direction, each.passage.rows) for each in response.passages
    ]
    if not legs:
        known = np.isfinite(points.speed_rpm) & np.isfinite(points.vectors)
        legs = [("unknown", np.flatnonzero(known))]
    # A run up and one down have all columns; many passages lie over each other and share them.
    columns = max(2 * columns // max(len(legs), 2), min(columns, _FEWEST_COLUMNS))
    noise = _noise(response)
    across = points.time_s if axis == "time" else points.speed_rpm
    traces: list[RunTrace] = []
    for direction, rows in legs:
        kept = _thinned(rows, across, np.abs(points.vectors), direction, columns)
        vectors = points.vectors[kept]
        anchor = traces[-1] if traces else beside
        traces.append(
            RunTrace(
                probe=response.name,
                order=points.order,
                direction=direction,
                time_s=points.time_s[kept],
                speed_rpm=points.speed_rpm[kept],
                vectors=vectors,
                raw=response.raw.vectors[kept],
                lag_deg=_lag(vectors, points.speed_rpm[kept], noise, anchor),
                thinned=len(kept) < len(rows),
            )
        )
    return tuple(traces)


def _noise(response: Response) -> float:
    """Amplitude below which a lag means nothing, µm p-p."""
    known = [each.noise_um for each in response.passages if each.noise_um is not None]
    if response.slow_roll is not None and response.slow_roll.scatter_um is not None:
        known.append(response.slow_roll.scatter_um)
    return _ABOVE_NOISE * max(known, default=0.0)


def _thinned(
    rows: Ints, across: Floats, amplitude: Floats, direction: Direction, columns: int
) -> Ints:
    if len(rows) <= 2 * columns:
        return rows
    x = across[rows]
    if not np.isfinite(x).all():
        return rows[:: -(-len(rows) // (2 * columns))]
    span = max(float(np.ptp(x)), 1e-12)
    cell = np.minimum((columns * (x - x.min()) / span).astype(np.int64), columns - 1)
    way = -1 if direction == "down" and x[-1] < x[0] else 1
    order = np.lexsort((rows, way * cell))
    starts = np.flatnonzero(np.diff(cell[order], prepend=cell[order[0]] - 1))
    kept = []
    for group in np.split(order, starts[1:]):
        size = amplitude[rows[group]]
        kept += sorted({int(group[np.argmin(size)]), int(group[np.argmax(size)])})
    out: Ints = rows[np.array(kept, dtype=np.int64)]
    return out


def _lag(vectors: Complexes, speed_rpm: Floats, noise_um: float, anchor: RunTrace | None) -> Floats:
    """The lag without jumps: from 0 to 360° at its least, or near that of the passage before."""
    lag: Floats = np.full(len(vectors), np.nan)
    sure: Bools = np.abs(vectors) > noise_um
    sure &= np.abs(vectors) > 0.0
    if not sure.any():
        return lag
    top = int(np.argmax(np.abs(vectors[sure])))
    unwrapped, least = _running_on(vectors[sure])
    wanted = unwrapped[top] - 360.0 * np.floor(least / 360.0)
    if anchor is not None and np.isfinite(anchor.lag_deg).any():
        known = np.flatnonzero(np.isfinite(anchor.lag_deg))
        nearest = known[np.argmin(np.abs(anchor.speed_rpm[known] - speed_rpm[sure][top]))]
        wanted += 360.0 * round(float(anchor.lag_deg[nearest] - wanted) / 360.0)
    lag[sure] = unwrapped + (wanted - unwrapped[top])
    return lag


def _running_on(vectors: Complexes) -> tuple[Floats, float]:
    """Lags without jumps, degrees, each near that of its neighbourhood's mean; the least of those.

    Where something else beats with the order (a whirl, noise), the lag of single turns goes round
    and round; unwrapped from one to the next it would run away by thousands of degrees.
    """
    lag = -np.degrees(np.angle(vectors))
    mean = -np.degrees(np.unwrap(np.angle(moving_average(vectors, _NEIGHBOURS))))
    out: Floats = lag + 360.0 * np.round((mean - lag) / 360.0)
    return out, float(mean.min())

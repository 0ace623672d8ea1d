"""Two runs laid over each other: the difference vector against speed, and whether it matters.

A change counts as a vector: an amplitude that stayed the same with another phase has changed.
ISO 20816-1 calls a change significant when it passes a quarter of the boundary between zones B and
C, up or down (criterion II; figures from memory of the paid text, article on its sister standard
seen). The criterion is meant for steady running; at other speeds it is only a yardstick.
"""

from __future__ import annotations

import numpy as np

from analysis.model.response_results import (
    Direction,
    Doubt,
    Overlay,
    PassageResponse,
    Response,
)
from analysis.model.results import Complexes, Floats

SIGNIFICANT_SHARE = 0.25
"""Of the B/C boundary: ISO 20816-1, criterion II (from memory; an editable default)."""

_POINTS = 600


def overlay(
    first: Response,
    second: Response,
    *,
    b_c: float | None = None,
    share: float = SIGNIFICANT_SHARE,
    operating_rpm: tuple[float, float] | None = None,
    direction: Direction | None = None,
) -> Overlay | None:
    """The second run against the first over the speeds that both have.

    Both with their own slow roll taken off, or with none: a difference between a compensated and a
    raw run would be slow roll, and is told in a doubt.

    Args:
        first: the older run.
        second: the newer run.
        b_c: coefficient of the B/C boundary, `b_c / sqrt(r/min)` µm p-p; no test without it.
        share: share of the boundary that a change must pass.
        operating_rpm: speeds at which the criterion is applied.
        direction: passages of this direction; those of the same direction when not given.

    Returns:
        `None` where the two have no speeds in common in passages of one direction.
    """
    pair = _passages(first, second, direction)
    if pair is None:
        return None
    one, other = pair
    low = max(one.curve_rpm[0], other.curve_rpm[0])
    high = min(one.curve_rpm[-1], other.curve_rpm[-1])
    if not low < high:
        return None
    speed = np.geomspace(low, high, _POINTS)
    before = _at(one, speed)
    after = _at(other, speed)
    difference = after - before
    limit = np.full(len(speed), np.nan) if b_c is None else share * b_c / np.sqrt(speed)
    return Overlay(
        speed_rpm=speed,
        first=before,
        second=after,
        difference=difference,
        limit_um=limit,
        significant=np.abs(difference) > limit,
        directions=(one.passage.direction, other.passage.direction),
        largest_operating=_in_range(speed, difference, limit, operating_rpm),
        doubts=_doubts(first, second, one, other),
    )


def _passages(
    first: Response, second: Response, direction: Direction | None
) -> tuple[PassageResponse, PassageResponse] | None:
    """The pair of passages of one direction with the most speed in common, else of any."""
    pairs = [
        (one, other)
        for one in first.passages
        for other in second.passages
        if len(one.curve_rpm) and len(other.curve_rpm)
    ]
    if direction is not None:
        pairs = [pair for pair in pairs if all(p.passage.direction == direction for p in pair)]
    alike = [p for p in pairs if p[0].passage.direction == p[1].passage.direction]
    chosen = alike or pairs
    if not chosen:
        return None
    return max(
        chosen,
        key=lambda pair: (
            min(pair[0].curve_rpm[-1], pair[1].curve_rpm[-1])
            - max(pair[0].curve_rpm[0], pair[1].curve_rpm[0])
        ),
    )


def _at(passage: PassageResponse, speed: Floats) -> Complexes:
    values = np.interp(speed, passage.curve_rpm, passage.curve_vectors)
    return np.asarray(values, dtype=np.complex128)


def _in_range(
    speed: Floats,
    difference: Complexes,
    limit: Floats,
    operating_rpm: tuple[float, float] | None,
) -> tuple[float, float, bool | None] | None:
    """Speed, size and significance of the change that comes nearest to its limit in the range."""
    if operating_rpm is None:
        return None
    inside = np.flatnonzero((speed >= operating_rpm[0]) & (speed <= operating_rpm[1]))
    if len(inside) == 0:
        return None
    size = np.abs(difference[inside])
    known = bool(np.isfinite(limit[inside]).all())
    worst = int(np.argmax(size / limit[inside] if known else size))
    passed = bool(size[worst] > limit[inside][worst]) if known else None
    return float(speed[inside][worst]), float(size[worst]), passed


def _doubts(
    first: Response, second: Response, one: PassageResponse, other: PassageResponse
) -> tuple[Doubt, ...]:
    out = []
    if (first.slow_roll is None) != (second.slow_roll is None):
        out.append(
            Doubt(
                "slow-roll-differs",
                "slow roll is taken off one of the two runs only: part of the difference is runout",
            )
        )
    directions = {one.passage.direction, other.passage.direction}
    if directions == {"up", "down"}:
        out.append(
            Doubt(
                "directions-differ",
                "one run goes up in speed and the other down: sweep and temperature make part of "
                "the difference",
            )
        )
    elif "unknown" in directions:
        out.append(
            Doubt(
                "direction-unknown",
                "whether both runs went up in speed or down is not known, since a table has no "
                "times: sweep and temperature can make part of the difference",
            )
        )
    return tuple(out)

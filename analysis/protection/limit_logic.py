"""The logic of one limit: delay, hysteresis, latch and reset (contract, section 5), on ticks.

Delays are whole numbers of ticks, so that no sum of tenths can be a digit short. The work goes over
runs of the condition, not over ticks.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from analysis.model.replay_results import EventName, LimitState
from analysis.model.results import Bools, Floats, Ints

TICK_S: Final = 0.1
"""The measures of limits are taken this far apart (contract, section 5)."""

STATES: Final[tuple[LimitState, ...]] = ("normal", "waiting", "set", "held", "void")
NORMAL, WAITING, SET, HELD, VOID = range(5)

_ROUNDING = 1e-6
"""Ticks: a time that is a tick but for rounding is that tick."""


class Change(NamedTuple):
    """A change of a limit's state at a tick; of a reset, the tick that it was judged by."""

    tick: int
    event: EventName
    reset: int | None = None
    """Which of the resets it was."""


@dataclass(frozen=True, eq=False)
class LimitCourse:
    """What a limit did: its changes in order of time, and its state at each tick.

    `codes` are places in `STATES`, shape (k,). At the tick of a reset the state is the one before.
    """

    changes: tuple[Change, ...]
    codes: NDArray[np.int8]


class Runs(NamedTuple):
    """Runs of ticks at which something holds: first and last tick of each."""

    first: Ints
    last: Ints


def delay_ticks(delay_s: float) -> int:
    """How many ticks after the first one of a condition the delay has passed."""
    return max(math.ceil(delay_s / TICK_S - _ROUNDING), 0)


def tick_at(time_s: float, origin_s: float) -> int:
    """The number of ticks (tenths of a second) that have passed from an origin to a time."""
    return math.floor((time_s - origin_s) / TICK_S + _ROUNDING)


def runs_of(holds: Bools) -> Runs:
    """The runs of ticks at which something holds."""
    steps = np.diff(holds.astype(np.int8), prepend=np.int8(0), append=np.int8(0))
    return Runs(np.flatnonzero(steps == 1), np.flatnonzero(steps == -1) - 1)


def limit_course(
    beyond_um: Floats,
    *,
    delay: int,
    hysteresis_um: float = 0.0,
    latching: bool = False,
    resets: Sequence[int] = (),
) -> LimitCourse:
    """What a limit does over a capture.

    The condition is met where `beyond_um >= 0` and clear where `beyond_um < -hysteresis_um`; where
    it is void (NaN) it is not met, and clear. The limit sets at the first tick at which the
    condition has been met at every tick for the delay. Not latching, it is cleared at the tick
    at which the condition has been clear for the delay. Latching, it is held from the first tick at
    which the condition is clear until a reset that comes while it is clear; a reset at any other
    time does nothing. While held it becomes set again (without an event: it never let go) when the
    condition has been met for the delay.

    Args:
        beyond_um: how far beyond the limit, shape (k,), one value a tick.
        delay: the delay in ticks (`delay_ticks`).
        hysteresis_um: how far inside the limit the condition counts as gone.
        latching: whether the limit holds until it is reset.
        resets: resets in order of time, each as the tick that was the last one when it came.
    """
    met = beyond_um >= 0.0
    clear = ~(beyond_um >= -hysteresis_um) if hysteresis_um > 0.0 else ~met
    codes = np.where(np.isnan(beyond_um), VOID, np.where(met, WAITING, NORMAL)).astype(np.int8)
    runs = runs_of(met)
    if not len(runs.first):
        return LimitCourse((), codes)
    sets = runs.first[runs.last - runs.first >= delay] + delay
    if latching:
        changes = _latching(sets, clear, resets, codes)
    else:
        changes = _letting_go(sets, clear, delay, codes)
    return LimitCourse(tuple(changes), codes)


def _letting_go(sets: Ints, clear: Bools, delay: int, codes: NDArray[np.int8]) -> list[Change]:
    runs = runs_of(clear)
    ends = runs.first[runs.last - runs.first >= delay] + delay
    changes: list[Change] = []
    at = -1
    while (start := _after(sets, at)) is not None:
        changes.append(Change(start, "set"))
        # A run of clear ticks that ends the delay after the set also began after it.
        end = _after(ends, start)
        codes[start:end] = SET
        if end is None:
            break
        changes.append(Change(end, "cleared"))
        at = end
    return changes


def _latching(
    sets: Ints, clear: Bools, resets: Sequence[int], codes: NDArray[np.int8]
) -> list[Change]:
    clears = runs_of(clear).first
    useful = [
        (tick, number)
        for number, tick in enumerate(resets)
        if 0 <= tick < len(clear)
        if clear[tick]
    ]
    reset_ticks = np.array([tick for tick, _ in useful], dtype=np.int64)
    changes: list[Change] = []
    at = -1
    while (start := _after(sets, at)) is not None:
        changes.append(Change(start, "set"))
        gone = _after(clears, start)
        codes[start:gone] = SET
        if gone is None:
            break
        changes.append(Change(gone, "held"))
        place = int(np.searchsorted(reset_ticks, gone, side="left"))
        until = int(reset_ticks[place]) if place < len(reset_ticks) else len(codes) - 1
        codes[gone : until + 1] = HELD
        changes += _held_again(sets, clears, gone, until, codes)
        if place == len(reset_ticks):
            break
        changes.append(Change(until, "reset", useful[place][1]))
        at = until
    return changes


def _held_again(
    sets: Ints, clears: Ints, gone: int, until: int, codes: NDArray[np.int8]
) -> list[Change]:
    """While the latch holds: the condition comes back for the delay, and goes again."""
    changes = []
    while (back := _after(sets, gone)) is not None and back <= until:
        again = _after(clears, back)
        codes[back : min(len(codes), until + 1) if again is None else again] = SET
        if again is None or again > until:
            break
        changes.append(Change(again, "held"))
        gone = again
    return changes


def _after(ticks: Ints, tick: int) -> int | None:
    place = int(np.searchsorted(ticks, tick, side="right"))
    return int(ticks[place]) if place < len(ticks) else None

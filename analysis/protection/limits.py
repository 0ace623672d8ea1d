"""Instant state of the limits: is the condition met now, without delay and latch.

The condition is `>= above` or `<= below` (contract, section 5). A circuit fault makes the measures
of its probe void; where a limit asks for more than one vote, the fault counts as one. A
`peak_to_peak` limit does not act on faults alone: one healthy probe at least must be beyond it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from analysis.model.results import (
    Bools,
    Floats,
    LimitCondition,
    LimitReading,
    ProbeRevolutions,
    RevolutionTable,
)
from analysis.model.setup import Limit, Setup

CONDITION_CODES: Final[dict[LimitCondition, int]] = {
    "normal": 0,
    "alarm": 1,
    "trip": 2,
    "fault": -1,
    "unknown": -2,
}
"""Codes of the conditions in arrays."""


@dataclass(frozen=True)
class Measures:
    """What limits look at, of one probe at one instant; µm, `None` when void or not known."""

    peak_to_peak: float | None
    position: float | None
    first_order: float | None
    fault: bool

    def of(self, limit: Limit) -> float | None:
        """The measure that a limit looks at."""
        if self.fault:
            return None
        if limit.measure == "peak_to_peak":
            return self.peak_to_peak
        return self.position if limit.measure == "position" else self.first_order


def settings_in_force(limit: Limit, speed_rpm: float | None) -> tuple[float | None, float | None]:
    """`above` and `below` with the multiplier put in while the speed is inside its window.

    The multiplier raises vibration limits; a position is no level that a factor could raise, so
    position limits stay as they are.
    """
    multiplier = limit.multiplier
    if multiplier is None or speed_rpm is None or limit.measure == "position":
        return limit.above, limit.below
    low, high = multiplier.rpm
    if not low <= speed_rpm <= high:
        return limit.above, limit.below
    raised = None if limit.above is None else limit.above * multiplier.factor
    return raised, limit.below


def instant_limits(
    setup: Setup, measures: Mapping[str, Measures], speed_rpm: float | None
) -> tuple[LimitReading, ...]:
    """Every limit of the setup at one instant, in the setup's order.

    `measures` has one entry a probe; a probe that is not in it cannot be judged.
    """
    return tuple(
        _instant(index, limit, measures, speed_rpm) for index, limit in enumerate(setup.limit)
    )


def _instant(
    index: int, limit: Limit, measures: Mapping[str, Measures], speed_rpm: float | None
) -> LimitReading:
    above, below = settings_in_force(limit, speed_rpm)
    votes = fault_votes = 0
    judged = False
    worst: tuple[float, str, float] | None = None
    for name in limit.probes:
        probe = measures.get(name)
        if probe is None:
            continue
        if probe.fault and limit.votes > 1:
            fault_votes += 1
            judged = judged or limit.measure != "peak_to_peak"
        value = probe.of(limit)
        if value is None:
            continue
        judged = True
        beyond = max(
            value - above if above is not None else -np.inf,
            below - value if below is not None else -np.inf,
        )
        votes += int(beyond >= 0)
        if worst is None or beyond > worst[0]:
            worst = (beyond, name, value)
    return LimitReading(
        index=index,
        probe=worst[1] if worst else limit.probes[0],
        value_um=worst[2] if worst else None,
        above_um=above,
        below_um=below,
        met=_carried(limit, votes, fault_votes) if judged else None,
    )


def _carried(limit: Limit, votes: int, fault_votes: int) -> bool:
    if limit.measure == "peak_to_peak" and votes == 0:
        return False
    return bool(votes + fault_votes >= limit.votes)


def condition_of(
    probe: str, limits: tuple[LimitReading, ...], setup: Setup, *, fault: bool
) -> LimitCondition:
    """The gravest condition that one probe shares in: circuit fault, then trip, alarm, normal."""
    if fault:
        return "fault"
    own = [limit for limit in limits if probe in setup.limit[limit.index].probes]
    met = {setup.limit[limit.index].level for limit in own if limit.met}
    if "trip" in met:
        return "trip"
    if "alarm" in met:
        return "alarm"
    return "normal" if any(limit.met is False for limit in own) else "unknown"


def conditions_over(table: RevolutionTable, setup: Setup) -> dict[str, NDArray[np.int8]]:
    """Instant condition of each probe in each revolution, as `CONDITION_CODES`; shape (r,)."""
    unknown = CONDITION_CODES["unknown"]
    codes = {name: np.full(len(table), unknown, dtype=np.int8) for name in table.probes}
    judged = [(limit, *_met_over(limit, table)) for limit in setup.limit]
    # From the mildest to the gravest: what is written last stays.
    for limit, _, can_tell in judged:
        for name in limit.probes:
            if name in codes:
                codes[name][can_tell] = CONDITION_CODES["normal"]
    for level in ("alarm", "trip"):
        for limit, met, _ in judged:
            for name in limit.probes:
                if name in codes and limit.level == level:
                    codes[name][met] = CONDITION_CODES[limit.level]
    for name, probe in table.probes.items():
        codes[name][probe.fault] = CONDITION_CODES["fault"]
    return codes


def _met_over(limit: Limit, table: RevolutionTable) -> tuple[Bools, Bools]:
    """Whether the condition is met, and whether there is anything to judge it by."""
    votes = np.zeros(len(table), dtype=np.int64)
    fault_votes = np.zeros(len(table), dtype=np.int64)
    can_tell = np.zeros(len(table), dtype=bool)
    above = np.full(len(table), np.inf if limit.above is None else limit.above)
    if limit.multiplier is not None and limit.measure != "position":
        low, high = limit.multiplier.rpm
        inside = (table.speed_rpm >= low) & (table.speed_rpm <= high)
        above[inside] *= limit.multiplier.factor
    below = -np.inf if limit.below is None else limit.below
    for name in limit.probes:
        probe = table.probes.get(name)
        if probe is None:
            continue
        value = _measure_over(limit, probe)
        can_tell |= np.isfinite(value)
        # NaN (void) compares false.
        votes += (value >= above) | (value <= below)
        if limit.votes > 1:
            fault_votes += probe.fault
    if limit.measure == "peak_to_peak":
        fault_votes[votes == 0] = 0
    else:
        can_tell |= fault_votes > 0
    met: Bools = (votes + fault_votes >= limit.votes) & can_tell
    return met, can_tell


def _measure_over(limit: Limit, probe: ProbeRevolutions) -> Floats:
    if limit.measure == "peak_to_peak":
        return probe.peak_to_peak_um
    if limit.measure == "position":
        return probe.gap_um
    if 1 in probe.vectors:
        amplitude: Floats = np.abs(probe.vectors[1])
        return amplitude
    return np.full(len(probe.gap_um), np.nan)

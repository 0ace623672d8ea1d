"""Instant state of the limits: is the condition met now, without delay and latch.

What the condition is, with votes, faults and the multiplier, stands in `condition`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.model.replay_results import MonitoredProbe
from analysis.model.results import Floats, LimitCondition, LimitReading, RevolutionTable
from analysis.model.setup import Limit, Setup

from .condition import ProbeBeyond, above_over, measures_of_revolutions, probes_beyond, voted
from .condition_codes import CONDITION_CODES


@dataclass(frozen=True)
class Measures:
    """What limits look at, of one probe at one instant; µm, `None` when void or not known.

    `first_order` is the 1X vector; its amplitude alone where the phase is not known.
    """

    peak_to_peak: float | None
    position: float | None
    first_order: complex | None
    fault: bool

    def as_arrays(self) -> MonitoredProbe:
        """The same as arrays of one element, as the logic of limits takes them."""
        return MonitoredProbe(
            peak_to_peak_um=_one(self.peak_to_peak),
            gap_um=_one(self.position),
            first_order=np.array([np.nan if self.first_order is None else self.first_order + 0j]),
            fault=np.array([self.fault]),
        )


def _one(value: float | None) -> Floats:
    return np.array([np.nan if value is None else value])


def instant_limits(
    setup: Setup,
    measures: Mapping[str, Measures],
    speed_rpm: float | None,
    *,
    phase_known: bool = False,
) -> tuple[LimitReading, ...]:
    """Every limit of the setup at one instant, in the setup's order.

    `measures` has one entry a probe; a probe that is not in it cannot be judged. Regions of 1X
    cannot be judged unless `phase_known`.
    """
    if not setup.limit:
        return ()
    probes = {name: measure.as_arrays() for name, measure in measures.items()}
    speed = _one(speed_rpm)
    return tuple(
        _instant(index, limit, probes_beyond(limit, probes, speed, phase_known=phase_known), speed)
        for index, limit in enumerate(setup.limit)
    )


def _instant(
    index: int, limit: Limit, probes: tuple[ProbeBeyond, ...], speed_rpm: Floats
) -> LimitReading:
    above = above_over(limit, speed_rpm)
    decision = voted(limit, probes, 1)[0]
    known = [each for each in probes if not np.isnan(each.beyond_um[0])]
    furthest = max(known, key=lambda each: float(each.beyond_um[0]), default=None)
    return LimitReading(
        index=index,
        probe=furthest.name if furthest else limit.probes[0],
        value_um=float(furthest.value_um[0]) if furthest else None,
        above_um=None if above is None else float(above[0]),
        below_um=limit.below,
        met=None if np.isnan(decision) else bool(decision >= 0.0),
    )


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
    measures = measures_of_revolutions(table)
    judged = []
    for limit in setup.limit:
        probes = probes_beyond(limit, measures, table.speed_rpm, phase_known=table.kind == "events")
        judged.append((limit, voted(limit, probes, len(table))))
    # From the mildest to the gravest: what is written last stays.
    for limit, beyond in judged:
        for name in limit.probes:
            if name in codes:
                codes[name][~np.isnan(beyond)] = CONDITION_CODES["normal"]
    for level in ("alarm", "trip"):
        for limit, beyond in judged:
            for name in limit.probes:
                if name in codes and limit.level == level:
                    # NaN (void) compares false.
                    codes[name][beyond >= 0.0] = CONDITION_CODES[limit.level]
    for name, probe in table.probes.items():
        codes[name][probe.fault] = CONDITION_CODES["fault"]
    return codes

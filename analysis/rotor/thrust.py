"""Two axial probes on one thrust collar: position, travel, and whether they agree."""

from __future__ import annotations

from dataclasses import replace
from typing import Final, Literal

import numpy as np

from analysis.model.position_results import ThrustPair
from analysis.model.results import Floats, RevolutionTable
from analysis.model.setup import Probe, Setup

AGREEMENT_UM: Final = 50.0
"""Largest difference of two axial probes on one collar that passes: a default to change, without
a source."""

_SIGNS: Final = {"same": (1.0, 1.0), "opposite": (1.0, -1.0)}
_LEAST_TRAVEL_UM: Final = 5.0
_CLEARLY: Final = 0.5


def thrust_probes(setup: Setup, names: frozenset[str]) -> list[tuple[Probe, Probe]]:
    """The axial pairs of a setup: two that a position limit names together, else by order.

    Args:
        setup: the setup.
        names: probes that the capture has.
    """
    axial = {p.name: p for p in setup.probe if p.kind == "axial" and p.name in names}
    pairs: list[tuple[Probe, Probe]] = []
    left = list(axial)
    for limit in setup.limit:
        own = [name for name in limit.probes if name in left]
        if limit.measure == "position" and len(own) == 2:
            pairs.append((axial[own[0]], axial[own[1]]))
            left = [name for name in left if name not in own]
    pairs += [(axial[a], axial[b]) for a, b in zip(left[::2], left[1::2], strict=False)]
    return pairs


def thrust_pair(
    table: RevolutionTable,
    probes: tuple[Probe, Probe],
    setup: Setup,
    tolerance_um: float = AGREEMENT_UM,
) -> ThrustPair:
    """Thrust positions of a pair over a table; `thrust_at` puts a moment in.

    Args:
        table: the capture's revolutions.
        probes: the two axial probes.
        setup: gives the position limits.
        tolerance_um: largest difference that counts as agreement, µm.
    """
    gaps = [table.probes[p.name].gap_um for p in probes]
    facing, found = _facing(gaps[0], gaps[1])
    from_rest = all(p.rest_gap_um is not None for p in probes)
    origins = [
        p.rest_gap_um if from_rest and p.rest_gap_um is not None else _mean(gap)
        for p, gap in zip(probes, gaps, strict=True)
    ]
    places = [
        sign * ((np.nan if origin is None else origin) - gap)
        for sign, origin, gap in zip(_SIGNS[facing], origins, gaps, strict=True)
    ]
    apart = places[0] - places[1]
    both = np.flatnonzero(np.isfinite(apart))
    middle = (places[0] + places[1])[both] / 2.0
    worst = both[int(np.argmax(np.abs(apart[both])))] if len(both) else None
    difference = None if worst is None else float(apart[worst])
    time_s = (table.start_s + table.end_s) / 2.0
    return ThrustPair(
        probes=(probes[0].name, probes[1].name),
        time_s=time_s,
        speed_rpm=table.speed_rpm,
        position_um=(places[0], places[1]),
        moment_um=(None, None),
        facing=facing,
        facing_found=found,
        from_rest=from_rest,
        travel_um=(float(middle.min()), float(middle.max())) if len(both) else None,
        difference_um=difference,
        difference_at_s=None if worst is None else float(time_s[worst]),
        tolerance_um=tolerance_um,
        agree=None if difference is None else abs(difference) <= tolerance_um,
        window_um=_window(setup, probes[0], origins[0]),
        origins_um=(origins[0], origins[1]),
    )


def thrust_at(
    pair: ThrustPair, table: RevolutionTable, rows: slice, tolerance_um: float
) -> ThrustPair:
    """The pair with its positions over some revolutions of any table, against a tolerance in µm."""
    at: list[float | None] = []
    for name, origin, sign in zip(pair.probes, pair.origins_um, _SIGNS[pair.facing], strict=True):
        gap = _mean(table.probes[name].gap_um[rows])
        at.append(None if gap is None or origin is None else sign * (origin - gap))
    agree = None if pair.difference_um is None else abs(pair.difference_um) <= tolerance_um
    return replace(pair, moment_um=(at[0], at[1]), tolerance_um=tolerance_um, agree=agree)


def _mean(values: Floats) -> float | None:
    finite = values[np.isfinite(values)]
    return float(finite.mean()) if len(finite) else None


def _facing(gap1: Floats, gap2: Floats) -> tuple[Literal["same", "opposite"], bool]:
    """Whether two gaps grow together; taken for granted where too little moves to tell."""
    both = np.isfinite(gap1) & np.isfinite(gap2)
    if np.count_nonzero(both) < 3:
        return "same", False
    a, b = gap1[both], gap2[both]
    if min(np.ptp(a), np.ptp(b)) < _LEAST_TRAVEL_UM:
        return "same", False
    together = float(np.corrcoef(a, b)[0, 1])
    if abs(together) < _CLEARLY:
        return "same", False
    return ("same" if together > 0.0 else "opposite"), True


def _window(
    setup: Setup, probe: Probe, origin_um: float | None
) -> tuple[float | None, float | None]:
    """Innermost trip limits of a probe as positions: the smallest gap is the highest position."""
    trips = [
        each
        for each in setup.limits_of(probe.name)
        if each.measure == "position" and each.level == "trip"
    ]
    above = [each.above for each in trips if each.above is not None]
    below = [each.below for each in trips if each.below is not None]
    if origin_um is None:
        return None, None
    return (
        origin_um - min(above) if above else None,
        origin_um - max(below) if below else None,
    )

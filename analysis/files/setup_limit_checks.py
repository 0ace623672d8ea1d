"""Limits against each other and against the linear range.

Only limits on the same probe, measure and side are compared. It is an error when a probe's lowest
trip comes before its lowest alarm (the alarm could never warn of it); any other alarm beyond a
trip, an alarm at the level of the trip, and one that a multiplier lifts beyond it are warnings,
since several alarms and voted trips can be meant so.
"""

from __future__ import annotations

from collections import defaultdict
from typing import Literal

from analysis.model.setup import Limit, Probe, Region

from .setup_lines import KeyPath
from .setup_tables import SetupTables

Side = Literal["above", "below"]
_Entry = tuple[KeyPath, Limit, float]


def check_limits(tables: SetupTables, probes: dict[str, Probe]) -> None:
    """Add to `tables.issues` what is wrong or unlikely in the limits."""
    groups: dict[tuple[str, str, Side], list[_Entry]] = defaultdict(list)
    sides: tuple[Side, Side] = ("above", "below")
    for path, limit in tables.models.items():
        if not isinstance(limit, Limit):
            continue
        _check_probes(tables, path, limit)
        _check_region(tables, path, limit, probes)
        for side in sides:
            value = limit.above if side == "above" else limit.below
            if value is None:
                continue
            _check_value(tables, path, limit, side, value, probes)
            for name in dict.fromkeys(limit.probes):
                groups[name, limit.measure, side].append((path, limit, value))
    for (name, measure, side), entries in groups.items():
        _check_order(tables, name, measure, side, entries)
    _check_region_order(tables)


def _check_probes(tables: SetupTables, path: KeyPath, limit: Limit) -> None:
    if len(set(limit.probes)) != len(limit.probes):
        tables.tell("error", (*path, "probes"), "a probe stands twice: each votes once")


def _check_region(
    tables: SetupTables, path: KeyPath, limit: Limit, probes: dict[str, Probe]
) -> None:
    if limit.region is None:
        return
    if "phase_reference" not in tables.raw:
        tables.tell(
            "warning",
            (*path, "region"),
            "there is no [phase_reference], so the phase of 1X is not known and this limit cannot "
            "be judged",
        )
    highest = limit.region.amplitude_um[1]
    for name in limit.probes:
        probe = probes.get(name)
        if probe is None or probe.linear_range_um is None:
            continue
        low, high = probe.linear_range_um
        if highest > high - low:
            tables.tell(
                "warning",
                (*path, "region"),
                f"{highest:g} µm p-p is more than the whole linear range of {name}, "
                f"{high - low:g} µm; check both",
            )


def _check_region_order(tables: SetupTables) -> None:
    """1X must leave the region of the alarm before that of the trip."""
    limits = [(path, m) for path, m in tables.models.items() if isinstance(m, Limit)]
    alarms = [(path, m) for path, m in limits if m.level == "alarm" and m.region is not None]
    trips = [(path, m) for path, m in limits if m.level == "trip" and m.region is not None]
    for path, alarm in alarms:
        for _, trip in trips:
            both = [name for name in alarm.probes if name in trip.probes]
            if not both or alarm.region is None or trip.region is None:
                continue
            if not _inside(alarm.region, trip.region):
                tables.tell(
                    "warning",
                    (*path, "region"),
                    f"the alarm region of {both[0]} reaches beyond its trip region: 1X can leave "
                    f"the second before the first; check both",
                )


def _inside(inner: Region, outer: Region) -> bool:
    low, high = outer.amplitude_um
    if not low <= inner.amplitude_um[0] < inner.amplitude_um[1] <= high:
        return False
    width = (outer.lag_deg[1] - outer.lag_deg[0]) % 360.0 or 360.0
    start = (inner.lag_deg[0] - outer.lag_deg[0]) % 360.0
    length = (inner.lag_deg[1] - inner.lag_deg[0]) % 360.0 or 360.0
    return width == 360.0 or start + length <= width


def _check_value(
    tables: SetupTables,
    path: KeyPath,
    limit: Limit,
    side: Side,
    value: float,
    probes: dict[str, Probe],
) -> None:
    if limit.measure != "position" and value <= 0:
        always = "always" if side == "above" else "never"
        tables.tell(
            "error", (*path, side), f"{value:g} µm p-p is {always} met: write a value above zero"
        )
        return
    for name in limit.probes:
        probe = probes.get(name)
        if probe is None or probe.linear_range_um is None:
            continue
        low, high = probe.linear_range_um
        if limit.measure == "position" and not low <= value <= high:
            tables.tell(
                "warning",
                (*path, side),
                f"{value:g} µm lies outside the linear range of {name}, {low:g} to {high:g} µm: "
                f"the probe cannot be trusted there",
            )
        elif limit.measure != "position" and value > high - low:
            tables.tell(
                "warning",
                (*path, side),
                f"{value:g} µm p-p is more than the whole linear range of {name}, "
                f"{high - low:g} µm; check both",
            )


def _check_order(
    tables: SetupTables, name: str, measure: str, side: Side, entries: list[_Entry]
) -> None:
    """Alarms must be met before trips. `below` is turned about, so that more is further."""
    sign = 1.0 if side == "above" else -1.0
    alarms = [entry for entry in entries if entry[1].level == "alarm"]
    trips = [entry for entry in entries if entry[1].level == "trip"]
    if not alarms or not trips:
        return
    first_alarm = min(sign * value for *_, value in alarms)
    first_trip = min(sign * value for *_, value in trips)
    for path, limit, value in alarms:
        beyond = sign * value > first_trip
        what = f"the {measure} alarm of {name} at {value:g} µm"
        trip = f"its trip at {sign * first_trip:g} µm"
        if beyond and first_alarm > first_trip:
            tables.tell(
                "error", (*path, side), f"{what} lies beyond {trip}: swap or correct the two"
            )
        elif beyond or sign * value == first_trip:
            how = "beyond" if beyond else "at the same level as"
            tables.tell("warning", (*path, side), f"{what} lies {how} {trip}; check both")
        elif side == "above" and _lifted_beyond(limit, value, trips):
            tables.tell(
                "warning",
                (*path, "multiplier"),
                f"{what} is lifted beyond the trip while its multiplier acts; "
                f"give the trip a multiplier too, or check both",
            )


def _lifted_beyond(alarm: Limit, value: float, trips: list[_Entry]) -> bool:
    """True when the alarm's multiplier lifts it over a trip that is not lifted at the same speed.

    The trip is taken as lifted only when its own multiplier covers all the speeds of the alarm's.
    """
    if alarm.multiplier is None:
        return False
    low, high = alarm.multiplier.rpm
    for _, trip, level in trips:
        factor = 1.0
        if trip.multiplier is not None:
            trip_low, trip_high = trip.multiplier.rpm
            if trip_low <= low and high <= trip_high:
                factor = trip.multiplier.factor
        if value * alarm.multiplier.factor > level * factor:
            return True
    return False

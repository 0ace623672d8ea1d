"""Relays: what drives them, and what a meter across their contacts would read."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from analysis.model.replay_results import MonitorSeries, RelayRun, StateRun
from analysis.model.setup import Relay, Setup

from .limit_logic import runs_of

ASSUMED_RELAYS: Final = (
    Relay(name="ALARM", driven_by="alarm"),
    Relay(name="TRIP", driven_by="trip"),
)
"""Taken where a setup has no `[[relay]]`: contacts that close, and coils that are energised, while
something acts. Common practice; the owner's drawings decide."""


def relays_of(setup: Setup) -> tuple[Relay, ...]:
    """The relays of a setup, or `ASSUMED_RELAYS` where it has none."""
    return setup.relay or ASSUMED_RELAYS


def relays_assumed(setup: Setup) -> bool:
    """Whether the relays are assumed, since the setup has none."""
    return not setup.relay


def relay_runs(
    setup: Setup, series: MonitorSeries, states: tuple[tuple[StateRun, ...], ...]
) -> dict[str, tuple[RelayRun, ...]]:
    """Each relay from the first tick to the last, by name.

    Args:
        setup: the setup that was replayed.
        series: what it was replayed on.
        states: the states of its limits, in their order.
    """
    if len(series) == 0:
        return {relay.name: () for relay in relays_of(setup)}
    ends = float(series.time_s[0]), float(series.time_s[-1])
    out = {}
    for relay in relays_of(setup):
        if relay.driven_by == "fault":
            acting = _fault_stretches(relay, series)
        else:
            acting = _limit_stretches(relay, setup, states)
        out[relay.name] = _runs(relay, acting, *ends)
    return out


def contact_closed(relay: Relay, *, active: bool) -> tuple[bool, bool]:
    """Whether the coil is energised, and whether the contact is closed.

    A normally open contact is closed exactly while the coil is energised, a normally closed one
    while it is not.
    """
    energised = active == (relay.energised == "acting")
    return energised, energised == (relay.contact == "normally_open")


def _limit_stretches(
    relay: Relay, setup: Setup, states: tuple[tuple[StateRun, ...], ...]
) -> list[tuple[float, float]]:
    return [
        (run.start_s, run.end_s)
        for limit, runs in zip(setup.limit, states, strict=True)
        if limit.level == relay.driven_by and _drives(relay, limit.probes)
        for run in runs
        if run.state in ("set", "held")
    ]


def _fault_stretches(relay: Relay, series: MonitorSeries) -> list[tuple[float, float]]:
    stretches = []
    for name, probe in series.probes.items():
        if not _drives(relay, (name,)):
            continue
        runs = runs_of(probe.fault)
        for first, last in zip(runs.first, runs.last, strict=True):
            until = min(int(last) + 1, len(series) - 1)
            stretches.append((float(series.time_s[first]), float(series.time_s[until])))
    return stretches


def _drives(relay: Relay, probes: tuple[str, ...]) -> bool:
    return relay.probes is None or any(name in relay.probes for name in probes)


def _runs(
    relay: Relay, acting: list[tuple[float, float]], start_s: float, end_s: float
) -> tuple[RelayRun, ...]:
    """The union of the stretches, and what lies between."""
    runs: list[RelayRun] = []

    def add(begin: float, end: float, active: bool) -> None:
        if end > begin:
            energised, closed = contact_closed(relay, active=active)
            runs.append(RelayRun(begin, end, active, energised, closed))

    at = start_s
    for begin, end in _joined(acting):
        add(at, begin, False)
        add(begin, end, True)
        at = end
    add(at, end_s, False)
    return tuple(runs)


def _joined(stretches: list[tuple[float, float]]) -> list[tuple[float, float]]:
    joined: list[tuple[float, float]] = []
    for begin, end in sorted(stretches):
        if joined and begin <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(end, joined[-1][1]))
        else:
            joined.append((begin, end))
    return joined


def relays_at(
    relays: Mapping[str, tuple[RelayRun, ...]], moment_s: float
) -> dict[str, RelayRun | None]:
    """The run of each relay that a moment lies in; `None` before the first tick."""
    found: dict[str, RelayRun | None] = {}
    for name, runs in relays.items():
        begun = [run for run in runs if run.start_s <= moment_s]
        found[name] = begun[-1] if begun else None
    return found

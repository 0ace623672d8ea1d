"""The sequences of a proof test, and what the settings make of them.

What to expect is not worked out a second time: the sequence is laid out as the measures that a
monitor would see of it, and replayed through the settings like any capture.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np

from analysis.model.proof import Side, StepKind
from analysis.model.replay_results import (
    EventName,
    LimitState,
    MonitoredProbe,
    MonitorSeries,
    RelayRun,
    ReplayResult,
)
from analysis.model.setup import Limit, Setup

from .contacts import relays_at
from .limit_logic import TICK_S
from .proof_values import Motion, approach_um, motion_at, quiet_motion, start_motion
from .replay import replay

_HOLD_BEYOND_DELAY_S: Final = 2.0
_LEAST_DELAY_FOR_BURST_S: Final = 0.5
"""Below that nobody can make a burst shorter than the delay by hand."""


@dataclass(frozen=True)
class Group:
    """One sequence: a limit from one side with the probes that are driven, or a circuit fault."""

    kind: Literal["limit", "fault_vote", "fault"]
    index: int | None
    side: Side | None
    probes: tuple[str, ...]


@dataclass(frozen=True)
class Phase:
    """What every driven probe sees for a while; the others stay quiet."""

    motions: tuple[tuple[str, Motion], ...]
    length_s: float


@dataclass(frozen=True)
class Draft:
    """A step before it has words: its phases, whether it begins with a reset, what should come."""

    kind: StepKind
    phases: tuple[Phase, ...]
    reset: bool = False
    event: EventName | None = None
    after_s: float | None = None


@dataclass(frozen=True)
class Outlook:
    """What the settings make of a draft at its end: the limit's state, the relays before and after.

    `relays` holds (name, closed before, closed after).
    """

    draft: Draft
    state: LimitState
    relays: tuple[tuple[str, bool, bool], ...]


def groups_of(setup: Setup, indices: Sequence[int], probe: str | None) -> list[Group]:
    """The sequences for these limits, each probe and side of its own, circuit faults at the end.

    A limit with one vote is tried on each of its probes, one with more on as many as must agree.
    `probe`: only what can be tried on this one.
    """
    groups: list[Group] = []
    for index in indices:
        limit = setup.limit[index]
        for driven in _driven(limit, probe):
            groups += [Group("limit", index, side, driven) for side in _sides(limit)]
        if limit.votes > 1 and probe is None and all(_tells_faults(setup, n) for n in limit.probes):
            groups.append(Group("fault_vote", index, _sides(limit)[0], _first(limit)))
    names = dict.fromkeys(name for group in groups for name in group.probes)
    return groups + [Group("fault", None, None, (n,)) for n in names if _tells_faults(setup, n)]


def drafts_of(setup: Setup, group: Group) -> list[Draft]:
    """The steps of a group, in order."""
    if group.kind == "fault":
        return _fault_drafts(setup, group)
    assert group.index is not None
    assert group.side is not None
    limit = setup.limit[group.index]
    vibrating = limit.measure != "position"
    quiet = {
        name: quiet_motion(setup, setup.probe_named(name), vibrating=vibrating)
        for name in group.probes
    }
    hold = hold_s(setup, group.probes)
    start = Phase(tuple((n, start_motion(limit, q)) for n, q in quiet.items()), hold)
    beyond = _phase(limit, group, quiet, 1.0, hold)
    lets_go: EventName = "held" if limit.latching else "cleared"
    back = Draft("back", (start,), event=lets_go, after_s=None if limit.latching else limit.delay_s)
    closing = [back, *([Draft("reset", (start,), True, "reset")] if limit.latching else [])]
    opening = [Draft("start", (start,), reset=limit.latching)]
    if group.kind == "fault_vote":
        first = group.probes[0]
        motions = tuple(
            (n, replace(m, open_circuit=True) if n == first else m) for n, m in beyond.motions
        )
        act = Draft("fault_vote", (Phase(motions, hold),), event="set", after_s=limit.delay_s)
        return [*opening, act, *closing]
    near = _phase(limit, group, quiet, -1.0, hold)
    steps = [*opening, Draft("near", (near,))]
    if limit.votes > 1:
        kept = (near.motions[0], *beyond.motions[1:])
        steps.append(Draft("one_short", (Phase(kept, hold), near)))
    if limit.delay_s >= _LEAST_DELAY_FOR_BURST_S:
        burst = replace(beyond, length_s=burst_s(limit))
        steps.append(Draft("burst", (burst, near)))
    steps.append(Draft("beyond", (beyond,), event="set", after_s=limit.delay_s))
    if limit.latching:
        steps.append(Draft("reset_present", (replace(beyond, length_s=2.0),), reset=True))
    return steps + closing


def outlooks(setup: Setup, group: Group, drafts: Sequence[Draft]) -> list[Outlook]:
    """Replay a group's drafts one after the other through all limits of the setup."""
    result, ends = planned_replay(setup, group, drafts)
    out = []
    before = relays_at(result.relays, 0.0)
    for draft, end_s in zip(drafts, ends, strict=True):
        at_s = end_s - TICK_S / 2
        after = relays_at(result.relays, at_s)
        relays = tuple(
            (name, _closed(before[name]), _closed(after[name])) for name in result.relays
        )
        state: LimitState = "normal"
        if group.index is not None:
            runs = [run for run in result.states[group.index] if run.start_s <= at_s]
            state = runs[-1].state if runs else "normal"
        out.append(Outlook(draft, state, relays))
        before = after
    return out


def planned_replay(
    setup: Setup, group: Group, drafts: Sequence[Draft]
) -> tuple[ReplayResult, list[float]]:
    """The replay of a group's drafts, and the time at which each of them ends."""
    index = group.index
    with_phase = index is not None and setup.limit[index].measure in ("1x", "1x_vector")
    vibrating = index is not None and setup.limit[index].measure != "position"
    phases: list[Phase] = []
    ends: list[float] = []
    resets: list[float] = []
    at = 0
    for draft in drafts:
        if draft.reset:
            resets.append(at * TICK_S + TICK_S / 2)
        for phase in draft.phases:
            phases.append(phase)
            at += _ticks(phase)
        ends.append(at * TICK_S)
    probes = {}
    for probe in setup.probe:
        still = quiet_motion(setup, probe, vibrating=vibrating)
        course = [
            motion
            for phase in phases
            for motion in [dict(phase.motions).get(probe.name, still)] * _ticks(phase)
        ]
        probes[probe.name] = _monitored(course, with_phase=with_phase)
    series = MonitorSeries(
        time_s=np.arange(at) / 10.0,
        speed_rpm=np.full(at, np.nan),
        probes=probes,
        phase_known=with_phase,
    )
    return replay(series, setup, resets_s=resets), ends


def hold_s(setup: Setup, probes: Sequence[str]) -> float:
    """How long a value is held: longer than every delay of these probes' limits, whole seconds."""
    delays = [limit.delay_s for name in probes for limit in setup.limits_of(name)]
    return float(math.ceil(max(delays, default=0.0) + _HOLD_BEYOND_DELAY_S))


def burst_s(limit: Limit) -> float:
    """How long a burst lasts that is shorter than the delay: half of it, in tenths."""
    return max(math.floor(limit.delay_s * 5.0) / 10.0, 0.2)


def _fault_drafts(setup: Setup, group: Group) -> list[Draft]:
    (name,) = group.probes
    quiet = quiet_motion(setup, setup.probe_named(name), vibrating=False)
    hold = hold_s(setup, group.probes)
    healthy = Phase(((name, quiet),), hold)
    opened = Phase(((name, replace(quiet, open_circuit=True)),), hold)
    return [
        Draft("start", (healthy,)),
        Draft("fault", (opened,), event="fault"),
        Draft("restore", (healthy,), event="fault_cleared"),
    ]


def _phase(
    limit: Limit, group: Group, quiet: dict[str, Motion], approaches: float, length_s: float
) -> Phase:
    assert group.side is not None
    side = group.side
    motions = tuple(
        (name, motion_at(limit, side, still, approaches * approach_um(limit, side, still)))
        for name, still in quiet.items()
    )
    return Phase(motions, length_s)


def _monitored(course: list[Motion], *, with_phase: bool) -> MonitoredProbe:
    fault = np.array([motion.open_circuit for motion in course])
    p_p = np.array([motion.peak_to_peak_um for motion in course])
    gap = np.array([motion.gap_um for motion in course])
    lag = np.radians([motion.lag_deg or 0.0 for motion in course])
    vector = p_p * np.exp(-1j * lag) if with_phase else np.full(len(course), complex(np.nan))
    for measure in (p_p, gap, vector):
        measure[fault] = np.nan
    return MonitoredProbe(p_p, gap, vector, fault)


def _ticks(phase: Phase) -> int:
    return round(phase.length_s / TICK_S)


def _closed(run: RelayRun | None) -> bool:
    return run is not None and run.closed


def _sides(limit: Limit) -> tuple[Side, ...]:
    if limit.region is not None:
        return ("outside",)
    sides: list[Side] = []
    if limit.above is not None:
        sides.append("above")
    if limit.below is not None:
        sides.append("below")
    return tuple(sides)


def _driven(limit: Limit, probe: str | None) -> list[tuple[str, ...]]:
    if limit.votes > 1:
        return [] if probe is not None else [_first(limit)]
    return [(name,) for name in limit.probes if probe in (None, name)]


def _first(limit: Limit) -> tuple[str, ...]:
    return limit.probes[: limit.votes]


def _tells_faults(setup: Setup, name: str) -> bool:
    return setup.probe_named(name).fault_v is not None

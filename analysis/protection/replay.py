"""A capture replayed through the limits of a setup: what would have acted, and when."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from analysis.model.replay_results import (
    LimitEvent,
    LimitState,
    MonitorSeries,
    ReplayResult,
    StateRun,
)
from analysis.model.results import Floats
from analysis.model.setup import Limit, Setup
from analysis.model.units import LengthUnit

from .changes import compare
from .condition import ProbeBeyond, factor_over, probes_beyond, voted
from .contacts import relay_runs
from .event_words import (
    AtTick,
    cleared_words,
    fault_words,
    held_words,
    reset_words,
    set_words,
)
from .limit_logic import (
    STATES,
    Change,
    LimitCourse,
    delay_ticks,
    limit_course,
    runs_of,
    tick_at,
)

__all__ = ["compare", "replay"]

_ORDER = ("fault", "fault_cleared", "set", "cleared", "held", "reset")
"""Of events at one tick: what explains others first; what sets before what lets go."""


def replay(
    series: MonitorSeries,
    setup: Setup,
    *,
    resets_s: Sequence[float] = (),
    unit: LengthUnit = LengthUnit.UM,
) -> ReplayResult:
    """Replay a capture through every limit of a setup (contract, section 5).

    Args:
        series: what the limits look at (`monitor_series`).
        setup: the setup with the limits; its probes are those of the series.
        resets_s: when a reset is given, s of capture time. One before the first tick, or one that
            comes later than the last tick is good for, does nothing.
        unit: the unit of lengths in the sentences of the events; all values are µm.
    """
    resets = tuple(sorted(float(reset) for reset in resets_s))
    origin_s = float(series.time_s[0]) if len(series) else 0.0
    ticks = [tick_at(reset, origin_s) for reset in resets]
    events = _fault_events(series, setup)
    states = []
    for index, limit in enumerate(setup.limit):
        judged = _judged(limit, series)
        course = limit_course(
            judged.beyond_um,
            delay=delay_ticks(limit.delay_s),
            hysteresis_um=limit.hysteresis_um,
            latching=limit.latching,
            resets=ticks,
        )
        events += _limit_events(index, judged, course, series, resets, unit)
        states.append(_state_runs(course, series.time_s, resets))
    events.sort(key=lambda each: (each.time_s, _ORDER.index(each.event), each.index or 0))
    return ReplayResult(
        setup=setup,
        series=series,
        events=tuple(_with_first_out(events)),
        states=tuple(states),
        relays=relay_runs(setup, series, tuple(states)),
        resets_s=resets,
    )


class _Judged(NamedTuple):
    """A limit against a series: its probes, and the value that decides at each tick."""

    limit: Limit
    probes: tuple[ProbeBeyond, ...]
    beyond_um: Floats
    factor: Floats


def _judged(limit: Limit, series: MonitorSeries) -> _Judged:
    probes = probes_beyond(limit, series.probes, series.speed_rpm, phase_known=series.phase_known)
    beyond = voted(limit, probes, len(series))
    return _Judged(limit, probes, beyond, factor_over(limit, series.speed_rpm))


def _at(judged: _Judged, tick: int) -> AtTick:
    """Who agrees and who decides at a tick: of two votes the second furthest, and so on."""
    limit = judged.limit
    factor = float(judged.factor[tick])
    known = [
        (float(each.beyond_um[tick]), each)
        for each in judged.probes
        if not np.isnan(each.beyond_um[tick])
    ]
    known.sort(key=lambda pair: pair[0], reverse=True)
    at_fault = tuple(each.name for each in judged.probes if each.fault[tick])
    votes = len(at_fault) if limit.votes > 1 else 0
    place = limit.votes - 1 - votes
    if limit.measure == "peak_to_peak":
        place = max(place, 0)  # not on faults alone
    agreeing = {each.name for beyond, each in known if beyond >= 0.0}
    names = tuple(name for name in limit.probes if name in agreeing)
    if not 0 <= place < len(known):
        return AtTick(None, None, "above", names, at_fault, factor)
    decides = known[place][1]
    value = float(decides.value_um[tick])
    return AtTick(decides.name, value, _side(limit, value, factor), names, at_fault, factor)


def _side(limit: Limit, value_um: float, factor: float) -> str:
    """The side of a limit that a value is nearer to, or beyond."""
    if limit.above is None or limit.below is None:
        return "below" if limit.above is None and limit.below is not None else "above"
    return "above" if value_um - limit.above * factor >= limit.below - value_um else "below"


def _limit_events(
    index: int,
    judged: _Judged,
    course: LimitCourse,
    series: MonitorSeries,
    resets_s: tuple[float, ...],
    unit: LengthUnit,
) -> list[LimitEvent]:
    events = []
    for place, change in enumerate(course.changes):
        at = _at(judged, change.tick)
        # Its own time; but no earlier than the tick that it was judged by.
        time_s = float(series.time_s[change.tick])
        if change.reset is not None:
            time_s = max(resets_s[change.reset], time_s)
        events.append(
            LimitEvent(
                time_s=time_s,
                event=change.event,
                probes=judged.limit.probes,
                index=index,
                measure=judged.limit.measure,
                level=judged.limit.level,
                value_um=at.value_um,
                why=_why(judged.limit, at, course.changes[place:], resets_s, unit),
            )
        )
    return events


def _why(
    limit: Limit,
    at: AtTick,
    changes: tuple[Change, ...],
    resets_s: tuple[float, ...],
    unit: LengthUnit,
) -> str:
    """Of the first of `changes`; those that follow tell which reset lets go of a latch."""
    event = changes[0].event
    if event == "set":
        return set_words(limit, at, unit)
    if event == "cleared":
        return cleared_words(limit, at, unit)
    if event == "reset":
        return reset_words(limit, at, unit)
    reset = next((each.reset for each in changes if each.reset is not None), None)
    return held_words(limit, at, None if reset is None else resets_s[reset], unit)


def _fault_events(series: MonitorSeries, setup: Setup) -> list[LimitEvent]:
    known = {probe.name: probe for probe in setup.probe}
    events = []
    for name, probe in series.probes.items():
        runs = runs_of(probe.fault)
        begins = [(int(tick), True) for tick in runs.first]
        ends = [(int(tick) + 1, False) for tick in runs.last if tick + 1 < len(series)]
        for tick, begin in begins + ends:
            events.append(
                LimitEvent(
                    time_s=float(series.time_s[tick]),
                    event="fault" if begin else "fault_cleared",
                    probes=(name,),
                    index=None,
                    measure=None,
                    level=None,
                    value_um=None,
                    why=fault_words(known.get(name), begins=begin),
                )
            )
    return events


def _state_runs(
    course: LimitCourse, time_s: Floats, resets_s: tuple[float, ...]
) -> tuple[StateRun, ...]:
    """Stretches of equal state from the first tick to the last; resets part them at their time."""
    if len(course.codes) == 0:
        return ()
    steps = np.flatnonzero(np.diff(course.codes)) + 1
    begins: list[tuple[float, LimitState]] = [(float(time_s[0]), STATES[course.codes[0]])]
    begins += [(float(time_s[tick]), STATES[course.codes[tick]]) for tick in steps]
    end_s = float(time_s[-1])
    for change in course.changes:
        if change.reset is not None:
            at_s = max(resets_s[change.reset], float(time_s[change.tick]))
            begins.append((min(at_s, end_s), "normal"))
    begins.sort(key=lambda pair: pair[0])
    runs: list[StateRun] = []
    for place, (start_s, state) in enumerate(begins):
        until_s = begins[place + 1][0] if place + 1 < len(begins) else end_s
        if until_s <= start_s and len(time_s) > 1:
            continue
        if runs and runs[-1].state == state:
            runs[-1] = replace(runs[-1], end_s=until_s)
        else:
            runs.append(StateRun(start_s, until_s, state))
    return tuple(runs)


def _with_first_out(events: list[LimitEvent]) -> list[LimitEvent]:
    """Each `set` with its rank among the limits of its level; the same tick, the same rank."""
    out = []
    active: dict[str, set[int]] = {}
    ranks: dict[str, dict[int, tuple[int, float]]] = {}
    for event in events:
        if event.index is None or event.level is None:
            out.append(event)
            continue
        own, ranked = active.setdefault(event.level, set()), ranks.setdefault(event.level, {})
        rank = None
        if event.event == "set":
            if not own:
                ranked.clear()
            own.add(event.index)
            if event.index not in ranked:
                earlier = sum(1 for _, at_s in ranked.values() if at_s < event.time_s)
                ranked[event.index] = (1 + earlier, event.time_s)
            rank = ranked[event.index][0]
        elif event.event in ("cleared", "reset"):
            own.discard(event.index)
        out.append(replace(event, first_out=rank))
    return out

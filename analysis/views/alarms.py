"""The Alarms page's request and its answer: what the limits would have done, also with others."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from analysis.model.advice import Advice
from analysis.model.replay_results import (
    Margin,
    MonitorSeries,
    ReplayChange,
    ReplayResult,
    TripBoundary,
)
from analysis.model.setup import Setup
from analysis.model.units import LengthUnit
from analysis.protection.guidance import advice
from analysis.protection.replay import compare, replay
from analysis.protection.trip_boundary import trip_boundary

THIS_CAPTURE = "this capture"


@dataclass(frozen=True)
class AlarmsRequest:
    """What the Alarms page wants to know.

    Args:
        resets_s: when resets are given, s of capture time.
        trial: the setup with the settings on trial; `None` while there are none.
        limit_index: the limit whose boundary and guidance are wanted; `None` for none.
        longest_delay_s: the longest delay that the boundary shows.
        unit: the unit of lengths in sentences.
        name: what the capture is called among others.
        others: measures of other captures that the boundary takes in as well, by name.
    """

    resets_s: tuple[float, ...] = ()
    trial: Setup | None = None
    limit_index: int | None = None
    longest_delay_s: float = 15.0
    unit: LengthUnit = LengthUnit.UM
    name: str = THIS_CAPTURE
    others: Mapping[str, MonitorSeries] = field(default_factory=dict, hash=False)


@dataclass(frozen=True, eq=False)
class AlarmsResult:
    """The answer.

    `trial` is `None` and `changes` empty while nothing is on trial. `boundary` and `advice` are of
    the limit asked for, with the setting on trial where there is one: `boundary` is `None` and
    `advice` empty when there is no such limit. `in_force_margins` are those of the setting in
    force, for its mark beside the one on trial.
    """

    request: AlarmsRequest
    in_force: ReplayResult
    trial: ReplayResult | None
    changes: tuple[ReplayChange, ...]
    boundary: TripBoundary | None
    advice: tuple[Advice, ...]
    in_force_margins: tuple[Margin, ...] = ()


def answer_alarms(series: MonitorSeries, setup: Setup, request: AlarmsRequest) -> AlarmsResult:
    """Replay the settings in force and those on trial, and lay them side by side.

    Args:
        series: the measures of the capture (`monitor_series`), made once and used for every answer.
        setup: the setup with the settings in force.
        request: what is wanted.
    """
    in_force = replay(series, setup, resets_s=request.resets_s, unit=request.unit)
    trial = None
    changes: tuple[ReplayChange, ...] = ()
    if request.trial is not None:
        trial = replay(series, request.trial, resets_s=request.resets_s, unit=request.unit)
        changes = compare(in_force, trial)
    tried = setup if request.trial is None else request.trial
    boundary: TripBoundary | None = None
    given: tuple[Advice, ...] = ()
    margins: tuple[Margin, ...] = ()
    index = request.limit_index
    if index is not None and 0 <= index < len(tried.limit):
        captures = {request.name: series, **request.others}
        boundary = trip_boundary(
            captures, tried.limit[index], index, longest_s=request.longest_delay_s
        )
        margins = boundary.margins
        if tried is not setup and index < len(setup.limit):
            # No further than its own delay: only the margins are wanted.
            margins = trip_boundary(captures, setup.limit[index], index, longest_s=0.0).margins
        given = advice(tried, series, index, unit=request.unit)
    return AlarmsResult(request, in_force, trial, changes, boundary, given, margins)

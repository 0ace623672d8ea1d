"""What the Run page asks besides critical speeds (`views.response`), and the answers.

Points of any order, compensated, at once; the cascade; components that are no whole order.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from analysis.jobs import SILENT, Part, Progress
from analysis.model.capture import Capture
from analysis.model.response_results import (
    Cascade,
    Doubt,
    NonSynchronous,
    Response,
    ResponsePoints,
    ResponseTable,
)
from analysis.model.results import RevolutionTable
from analysis.model.setup import Probe, Setup
from analysis.rotor.response.cascade import CascadeChoice, cascade
from analysis.rotor.response.nonsync import consistent_with, non_synchronous
from analysis.rotor.response.order_filter import filtered_points
from analysis.rotor.response.responses import points_of
from analysis.rotor.turns import find_turns

from .references import ReferenceLine, limit_lines, running_test_line, zone_lines
from .response import SlowRollChoice, slow_roll_of, with_kept
from .run_traces import RunAxis, RunTrace, points_only, traces_of

RunSource = RevolutionTable | ResponseTable
"""Where vectors come from: the revolutions of a capture, or a table that was opened."""


@dataclass(frozen=True)
class RunRequest:
    """What the pictures of a run show.

    Args:
        order: of the vectors.
        axis: what is shown across.
        columns: pixel columns of the widest picture.
        slow_roll: what is taken off.
    """

    order: int = 1
    axis: RunAxis = "speed"
    columns: int = 600
    slow_roll: SlowRollChoice = field(default_factory=SlowRollChoice)


@dataclass(frozen=True, eq=False)
class RunResult:
    """Points and curves of every radial probe that has this order. `kind` as of the revolutions."""

    request: RunRequest
    responses: Mapping[str, Response]
    traces: Mapping[str, tuple[RunTrace, ...]]
    orders: tuple[int, ...]
    notices: Mapping[str, tuple[Doubt, ...]] = field(default_factory=dict)


def answer_run(
    source: RunSource, setup: Setup | None, request: RunRequest, beside: RunResult | None = None
) -> RunResult:
    """The compensated points of every radial probe, before anything is looked for in them.

    `beside`: a run that this one is laid over; lags are told near its own, not a turn away.
    """
    responses: dict[str, Response] = {}
    traces: dict[str, tuple[RunTrace, ...]] = {}
    notices: dict[str, tuple[Doubt, ...]] = {}
    choice = with_kept(request.slow_roll, setup, request.order)
    for name, points in all_points(source, setup, request.order).items():
        slow_roll, said = slow_roll_of(name, points, choice)
        responses[name] = points_only(name, points, slow_roll)
        anchor = next(iter(beside.traces.get(name, ())), None) if beside is not None else None
        traces[name] = traces_of(responses[name], request.axis, request.columns, anchor)
        notices[name] = said
    return RunResult(request, responses, traces, orders_of(source), notices)


def all_points(source: RunSource, setup: Setup | None, order: int) -> dict[str, ResponsePoints]:
    """The vectors of an order by probe; axial probes have none that a run could show."""
    if isinstance(source, ResponseTable):
        return {
            name: ResponsePoints(order, source.time_s, source.speed_rpm, orders[order])
            for name, orders in source.vectors.items()
            if order in orders
        }
    if source.kind != "events" or setup is None:
        return {}  # without events there is no lag, and nothing to compensate
    return {
        probe.name: points_of(source, probe.name, order)
        for probe in setup.probe
        if probe.kind == "radial"
        and probe.name in source.probes
        and order in source.probes[probe.name].vectors
    }


def orders_of(source: RunSource) -> tuple[int, ...]:
    """The orders that some probe has."""
    if isinstance(source, ResponseTable):
        return tuple(sorted({n for orders in source.vectors.values() for n in orders}))
    return tuple(sorted({n for probe in source.probes.values() for n in probe.vectors}))


def filtered_table(
    capture: Capture,
    setup: Setup,
    *,
    orders: tuple[int, ...],
    bandwidth_hz: float,
    progress: Progress = SILENT,
) -> ResponseTable:
    """The vectors of every radial probe by the order filter, as a table.

    Raises:
        ValueError: when the shaft angle is not known.
    """
    turns = find_turns(capture, setup, capture.span)
    probes = _radial(capture, setup)
    vectors: dict[str, dict[int, np.ndarray]] = {}
    time, speed = (turns.start_s + turns.end_s) / 2.0, turns.speed_rpm
    for rank, probe in enumerate(probes):
        part = Part(progress, rank / len(probes), (rank + 1) / len(probes))
        found = filtered_points(
            capture, probe, turns, orders, bandwidth_hz=bandwidth_hz, progress=part
        )
        vectors[probe.name] = {order: points.vectors for order, points in found.items()}
    notice = f"vectors by the order filter, bandwidth {bandwidth_hz:g} Hz (-3 dB, two-sided)"
    return ResponseTable(capture.name, time, speed, vectors, (notice,))


def answer_cascade(
    capture: Capture,
    setup: Setup,
    of: str | None,
    choice: CascadeChoice,
    progress: Progress = SILENT,
) -> tuple[str, Cascade | None]:
    """The cascade of a plane (two-sided) or of a probe; of the first plane when not said.

    Returns:
        The name of what it is of, and the cascade: `None` where none can be made.
    """
    name, probes = _cascade_probes(capture, setup, of)
    if not probes:
        return name, None
    turns = find_turns(capture, setup, capture.span)
    two_sided = len(probes) == 2
    chosen = CascadeChoice(
        against=choice.against,
        axis=choice.axis,
        two_sided=two_sided,
        rows=choice.rows,
        turns=choice.turns,
        highest=choice.highest,
        window=choice.window,
        scaling=choice.scaling,
        passage=choice.passage,
    )
    return name, cascade(capture, setup, turns, probes, chosen, progress)


@dataclass(frozen=True)
class Component:
    """A component that is no whole order, where it was seen, and the hedged remark on it."""

    of: str
    measured: NonSynchronous
    consistent: str | None


def answer_components(
    capture: Capture,
    setup: Setup,
    critical_rpm: tuple[float, ...] = (),
    progress: Progress = SILENT,
) -> tuple[Component, ...]:
    """Components of every plane (and of probes in no plane) that are no whole order of speed."""
    in_planes = {name for plane in setup.plane for name in plane.probes}
    there = {probe.name for probe in _radial(capture, setup)}
    wanted = [plane.name for plane in setup.plane if set(plane.probes) <= there]
    wanted += [name for name in sorted(there - in_planes)]
    turns = find_turns(capture, setup, capture.span)
    found: list[Component] = []
    for rank, of in enumerate(wanted):
        name, probes = _cascade_probes(capture, setup, of)
        part = Part(progress, rank / len(wanted), (rank + 1) / len(wanted))
        choice = CascadeChoice(against="time", two_sided=len(probes) == 2)
        rows = cascade(capture, setup, turns, probes, choice, part)
        if rows is not None:
            found += [
                Component(name, each, consistent_with(each, critical_rpm))
                for each in non_synchronous(rows)
            ]
    return tuple(sorted(found, key=lambda each: -each.measured.amplitude_um))


def references_of(
    setup: Setup | None,
    probes: tuple[str, ...],
    wanted: frozenset[str],
    speeds_rpm: tuple[float, float],
    operating_rpm: tuple[float, float] | None,
) -> tuple[ReferenceLine, ...]:
    """The lines wanted (`"limits"`, `"zones"`, `"test"`), those of several probes once."""
    low, high = speeds_rpm
    lines: list[ReferenceLine] = []
    if setup is not None and "limits" in wanted:
        known = [name for name in probes if any(name == probe.name for probe in setup.probe)]
        lines += _limits_of(setup, known, low, high)
    if "zones" in wanted:
        lines += zone_lines(setup.severity_zones if setup is not None else None, low, high)
    agreed = setup.machine.running_test_limit_um if setup is not None else None
    if "test" in wanted and (operating_rpm is not None or agreed is not None):
        continuous = high if operating_rpm is None else operating_rpm[1]
        lines.append(running_test_line(continuous, low, high, agreed))
    return tuple(lines)


def _limits_of(setup: Setup, probes: list[str], low: float, high: float) -> list[ReferenceLine]:
    """The limits of several probes: what all have once, the others with the probes' names."""
    lines: dict[tuple[str, bytes, bytes], ReferenceLine] = {}
    of: dict[tuple[str, bytes, bytes], list[str]] = {}
    for probe in probes:
        for line in limit_lines(setup, probe, low, high):
            key = (line.name, line.speed_rpm.tobytes(), line.level_um.tobytes())
            lines[key] = line
            of.setdefault(key, []).append(probe)
    return [
        line
        if len(of[key]) == len(probes)
        else replace(line, name=f"{', '.join(of[key])} {line.name}")
        for key, line in lines.items()
    ]


def _radial(capture: Capture, setup: Setup) -> list[Probe]:
    return [p for p in setup.probe if p.kind == "radial" and p.channel in capture.channels]


def _cascade_probes(
    capture: Capture, setup: Setup, of: str | None
) -> tuple[str, tuple[Probe, ...]]:
    """Name and probes of a plane or a probe."""
    radial = {probe.name: probe for probe in _radial(capture, setup)}
    planes = {p.name: p for p in setup.plane if set(p.probes) <= set(radial)}
    if of is None:
        of = next(iter(planes), next(iter(radial), None))
    if of in planes:
        return of, tuple(radial[name] for name in planes[of].probes)
    if of in radial:
        return of, (radial[of],)
    return of or "", ()

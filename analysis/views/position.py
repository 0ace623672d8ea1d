"""The Position page's request and its answer: where the shaft sits, and what its probes see of it.

Two steps, so that a moving moment never waits: `capture_position` once a revolution table, and
`answer_position` for every moment.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from analysis.jobs import SILENT, Progress
from analysis.model.capture import Capture
from analysis.model.position_results import (
    Finding,
    PlanePosition,
    ProbePosition,
    RestPosition,
    Station,
    ThrustPair,
)
from analysis.model.results import Centreline, RevolutionTable
from analysis.model.setup import Plane, Probe, Setup
from analysis.model.span import TimeSpan
from analysis.model.units import LengthUnit
from analysis.protection.two_readings import LOAD_OHM
from analysis.rotor.centreline import centreline, centreline_path
from analysis.rotor.pair import probes_of
from analysis.rotor.range_use import rows_inside
from analysis.rotor.rest_position import rest_position
from analysis.rotor.revolutions import table_of
from analysis.rotor.thrust import AGREEMENT_UM, thrust_at, thrust_pair, thrust_probes
from analysis.rotor.turns import BLOCK_S, find_turns, turns_around

from .position_findings import findings_of
from .position_headline import headline_of
from .position_probe import ProbeCapture, moment_rows_of, probe_capture, probe_position


@dataclass(frozen=True)
class PositionRequest:
    """What the Position page wants to know.

    Args:
        moment_s: the moment, s of capture time.
        half_turns: revolutions to either side of it that its readings are taken over.
        span: a span chosen by the reader, s; `None` for none.
        speed_rpm: speed for a capture without a phase reference.
        resistance_ohm: what loop currents are measured across, Ω.
        agreement_um: largest difference of two axial probes that passes, µm.
        unit: the unit of lengths in sentences.
    """

    moment_s: float
    half_turns: float = 4.0
    span: TimeSpan | None = None
    speed_rpm: float | None = None
    resistance_ohm: float = LOAD_OHM
    agreement_um: float = AGREEMENT_UM
    unit: LengthUnit = LengthUnit.UM


@dataclass(frozen=True, eq=False)
class CapturePosition:
    """What a whole capture tells, whatever the moment: made once from its revolution table."""

    table: RevolutionTable
    probes: Mapping[str, ProbeCapture]
    planes: Mapping[str, PlanePosition]
    thrust: tuple[ThrustPair, ...] = ()


@dataclass(frozen=True, eq=False)
class PositionResult:
    """The answer. `moment_span` holds the revolutions that readings at the moment are taken over.

    `train` names planes and thrust pairs in the setup's order. `findings` are what a reader should
    know, worst first; they speak of the whole capture where it is known (`whole`). `headline` tells
    the worst of it in one sentence, or that all is in order.
    """

    request: PositionRequest
    moment_span: TimeSpan
    whole: bool
    probes: Mapping[str, ProbePosition]
    planes: Mapping[str, PlanePosition]
    thrust: tuple[ThrustPair, ...]
    train: tuple[Station, ...]
    findings: tuple[Finding, ...]
    headline: Finding | None = None
    notices: tuple[str, ...] = field(default=())


def capture_position(
    capture: Capture,
    setup: Setup,
    table: RevolutionTable,
    progress: Progress = SILENT,
) -> CapturePosition:
    """Range use, cuts, centreline paths and thrust of a whole capture.

    Args:
        capture: the capture; few samples of it are read.
        setup: its setup.
        table: its revolutions (or those there are so far).
        progress: told after every probe.
    """
    probes: dict[str, ProbeCapture] = {}
    present = [p for p in setup.probe if p.name in table.probes and p.channel in capture.channels]
    for number, probe in enumerate(present):
        progress.report(number / len(present), "looking at positions")
        probes[probe.name] = probe_capture(capture, probe, table)
    planes = {plane.name: _plane(capture, setup, plane, table) for plane in setup.plane}
    progress.report(1.0, "looking at positions")
    return CapturePosition(table, probes, planes, _pairs(setup, table))


def answer_position(
    capture: Capture,
    setup: Setup,
    request: PositionRequest,
    whole: CapturePosition | None = None,
) -> PositionResult:
    """Everything that the Position page shows of a moment.

    Args:
        capture: the capture.
        setup: its setup.
        request: what is wanted.
        whole: what the capture tells; without it the answer is of the moment alone, and a chosen
            span is not read.
    """
    moment = min(max(request.moment_s, capture.span.start_s), capture.span.end_s)
    count = max(round(2.0 * request.half_turns), 1)
    rows = None if whole is None else moment_rows_of(whole.table, moment, count)
    if whole is not None and rows is not None:
        table = whole.table
    else:
        table = _table_around(capture, setup, moment, count, request.speed_rpm)
        rows = slice(0, len(table))
    chosen = None
    if whole is not None and request.span is not None:
        chosen = rows_inside(whole.table, request.span)
    probes = {
        probe.name: probe_position(
            capture,
            setup,
            probe,
            whole.probes.get(probe.name) if whole else None,
            whole.table if whole else None,
            chosen,
            table,
            rows,
            request.resistance_ohm,
        )
        for probe in setup.probe
        if probe.name in table.probes
    }
    planes = {
        plane.name: _plane_at(
            capture, setup, plane, whole.planes.get(plane.name) if whole else None, table, rows
        )
        for plane in setup.plane
    }
    pairs = whole.thrust if whole else _pairs(setup, table)
    thrust = tuple(thrust_at(pair, table, rows, request.agreement_um) for pair in pairs)
    filled = rows.stop > rows.start
    findings = findings_of(probes, planes, thrust, request.unit)
    return PositionResult(
        request=request,
        moment_span=(
            TimeSpan(float(table.start_s[rows.start]), float(table.end_s[rows.stop - 1]))
            if filled
            else TimeSpan(moment, moment)
        ),
        whole=whole is not None,
        probes=probes,
        planes=planes,
        thrust=thrust,
        train=_train(planes, thrust),
        findings=findings,
        headline=headline_of(probes, findings, request.unit),
        notices=table.notices,
    )


def _pairs(setup: Setup, table: RevolutionTable) -> tuple[ThrustPair, ...]:
    found = thrust_probes(setup, frozenset(table.probes))
    return tuple(thrust_pair(table, pair, setup) for pair in found)


def _table_around(
    capture: Capture, setup: Setup, moment: float, count: int, speed_rpm: float | None
) -> RevolutionTable:
    turns = turns_around(capture, setup, moment, count, speed_rpm=speed_rpm)
    if len(turns) == 0 or not turns.start_s[0] - 1.0 <= moment <= turns.end_s[-1] + 1.0:
        # A stopped shaft has no turns: blocks tell where it sits.
        half = count * BLOCK_S / 2.0
        span = TimeSpan(moment - half, moment + half).clipped_to(capture.span)
        still = setup.model_copy(update={"phase_reference": None})
        turns = find_turns(capture, still, span)
    # With the same orders as the capture's table, since mean and orders are solved for together.
    return table_of(capture, setup, turns)


def _plane(capture: Capture, setup: Setup, plane: Plane, table: RevolutionTable) -> PlanePosition:
    """The plane's path over the table, without a moment."""
    pair = probes_of(capture, setup, plane)
    position = PlanePosition(
        name=plane.name,
        probes=plane.probes,
        clearance_um=plane.clearance_um,
        rest_towards=plane.rest,
        rest=None,
        direction_assumed="rest" not in plane.model_fields_set,
        path=None,
        moment=None,
        outside_turns=0,
        missing="the capture does not have both probes of this plane",
    )
    if pair is None:
        return position
    rest = rest_position(table, pair)
    if rest is None:
        why = "no rest gaps in the setup, and no turns slow enough to stand for rest"
        return replace(position, missing=why)
    gaps = table.probes[pair[0].name].gap_um, table.probes[pair[1].name].gap_um
    time_s = (table.start_s + table.end_s) / 2.0
    path = centreline_path(
        gaps, rest.gaps_um, pair, plane, setup.machine.rotation, time_s, table.speed_rpm
    )
    # NaN compares false.
    outside = int(np.count_nonzero(path.eccentricity_ratio > 1.0))
    return replace(position, rest=rest, path=path, outside_turns=outside, missing="")


def _plane_at(
    capture: Capture,
    setup: Setup,
    plane: Plane,
    whole: PlanePosition | None,
    table: RevolutionTable,
    rows: slice,
) -> PlanePosition:
    """The plane with its position at the moment."""
    position = whole if whole is not None else _plane(capture, setup, plane, table)
    pair = probes_of(capture, setup, plane)
    if pair is None or position.rest is None:
        return position
    means = [table.probes[probe.name].gap_um[rows] for probe in pair]
    both = np.isfinite(means[0]) & np.isfinite(means[1])
    found: Centreline | None = None
    if both.any():
        gaps = float(means[0][both].mean()), float(means[1][both].mean())
        found = centreline(*gaps, _rested(pair, position.rest), plane, setup.machine.rotation)
    return replace(position, moment=found)


def _rested(pair: tuple[Probe, Probe], rest: RestPosition) -> tuple[Probe, Probe]:
    first, second = (
        probe.model_copy(update={"rest_gap_um": gap})
        for probe, gap in zip(pair, rest.gaps_um, strict=True)
    )
    return first, second


def _train(
    planes: Mapping[str, PlanePosition], thrust: tuple[ThrustPair, ...]
) -> tuple[Station, ...]:
    names = [*planes, *(f"{a} / {b}" for a, b in (pair.probes for pair in thrust))]
    last = max(len(names) - 1, 1)
    return tuple(
        Station(name, "radial" if number < len(planes) else "thrust", number / last)
        for number, name in enumerate(names)
    )

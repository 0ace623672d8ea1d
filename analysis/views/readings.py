"""Readings of a span: what `measure` prints, cards and tables show, and reports say."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from analysis.jobs import SILENT, Part, Progress
from analysis.model.capture import Capture
from analysis.model.results import (
    Ellipse,
    Floats,
    LimitReading,
    PlaneReading,
    ProbeReading,
    ProbeRevolutions,
    Reading,
    RevolutionTable,
    SpanReadings,
    SpeedReading,
    VectorReading,
)
from analysis.model.setup import Plane, Probe, Setup
from analysis.model.span import TimeSpan
from analysis.protection.current_output import current_ma
from analysis.protection.limits import Measures, condition_of, instant_limits
from analysis.protection.zones import zone_of
from analysis.rotor.centreline import centreline
from analysis.rotor.orbit import ellipse
from analysis.rotor.pair import plane_s_max, probes_of
from analysis.rotor.position import GapExtremes, extremes_of_rows, gap_extremes
from analysis.rotor.revolutions import table_of
from analysis.rotor.turns import Turns, find_turns
from analysis.rotor.vectors import synchronous_average


def read_span(
    capture: Capture,
    setup: Setup,
    span: TimeSpan,
    *,
    orders: tuple[int, ...] = (1, 2),
    speed_rpm: float | None = None,
    progress: Progress = SILENT,
) -> SpanReadings:
    """All readings of a span (contract, sections 5 and 6), over its whole revolutions.

    Args:
        capture: the capture.
        setup: its setup.
        span: the span, s; clipped to the capture.
        orders: whole orders that vectors and orbits are wanted of.
        speed_rpm: speed for a capture without a phase reference.
        progress: told on the way.
    """
    span = span.clipped_to(capture.span)
    turns = find_turns(capture, setup, span, speed_rpm=speed_rpm, progress=Part(progress, 0.0, 0.1))
    rest = Part(progress, 0.1, 1.0)
    return read_turns(capture, setup, span, turns, orders=orders, progress=rest)


def read_turns(
    capture: Capture,
    setup: Setup,
    span: TimeSpan,
    turns: Turns,
    *,
    orders: tuple[int, ...] = (1, 2),
    progress: Progress = SILENT,
    rows: RevolutionTable | None = None,
) -> SpanReadings:
    """The readings of revolutions that are known already, or even their `rows`; see `read_span`."""
    table = rows or table_of(capture, setup, turns, orders=orders, progress=progress)
    speed = _speed(table)
    present = [p for p in setup.probe if p.channel in capture.channels]
    known = rows.probes if rows is not None else {}
    extremes = {
        p.name: (extremes_of_rows(known[p.name], p) if p.name in known else None)
        or gap_extremes(capture.channels[p.channel], p, span)
        for p in present
    }
    means = {p.name: _Means.of(table.probes[p.name], table.kind) for p in present}
    measures = {p.name: means[p.name].measures(extremes[p.name]) for p in present}
    phase_known = table.kind == "events"
    limits = instant_limits(setup, measures, speed.mean_rpm, phase_known=phase_known)
    probes = {
        p.name: _probe(p, setup, speed.mean_rpm, means[p.name], extremes[p.name], limits)
        for p in present
    }
    planes = {
        plane.name: _plane(capture, setup, plane, table, probes, orders) for plane in setup.plane
    }
    notices = table.notices + _mixed_speeds(speed)
    notices += tuple(
        f"probe {p.name}: the capture has no channel {p.channel}"
        for p in setup.probe
        if p.channel not in capture.channels
    )
    return SpanReadings(span, speed, probes, planes, notices)


def read_volts(capture: Capture, span: TimeSpan) -> dict[str, Reading]:
    """Mean volts of every channel over a span, with the scatter of the samples.

    For a capture without a setup, of which no more can be known. Channels without a finite sample
    in the span are left out.
    """
    out: dict[str, Reading] = {}
    for name, channel in capture.channels.items():
        first = channel.index_at_or_after(span.start_s)
        last = channel.index_at_or_after(span.end_s)
        count, total, squares = 0, 0.0, 0.0
        origin: float | None = None
        for start in range(first, last, 1 << 19):
            volts = channel.volts(start, min(start + (1 << 19), last))
            volts = volts[np.isfinite(volts)]
            if len(volts) == 0:
                continue
            # Sums about a value close to the mean, so that squares lose no digits.
            origin = float(volts.mean()) if origin is None else origin
            count += len(volts)
            total += float(np.sum(volts - origin))
            squares += float(np.sum((volts - origin) ** 2))
        if count and origin is not None:
            variance = max(squares / count - (total / count) ** 2, 0.0)
            out[name] = Reading(origin + total / count, float(np.sqrt(variance)))
    return out


def _speed(table: RevolutionTable) -> SpeedReading:
    speeds = table.speed_rpm[np.isfinite(table.speed_rpm)]
    if len(speeds) == 0:
        return SpeedReading(None, None, None, len(table), table.kind)
    # Mean over time: whole turns by the time they took.
    taken = float(np.sum(table.end_s - table.start_s))
    mean = 60.0 * len(table) / taken
    return SpeedReading(mean, float(speeds.min()), float(speeds.max()), len(table), table.kind)


def _mixed_speeds(speed: SpeedReading) -> tuple[str, ...]:
    """A warning where the span runs through so many speeds that a mean vector means little."""
    if speed.min_rpm is None or speed.max_rpm is None or speed.max_rpm < 1.2 * speed.min_rpm:
        return ()
    return (
        f"the speed runs from {speed.min_rpm:.0f} to {speed.max_rpm:.0f} r/min in this span: "
        f"means and vectors are averages over all of them",
    )


def reading_of(values: Floats) -> Reading | None:
    """Mean of the finite values with their standard deviation; `None` when there are none."""
    valid = values[np.isfinite(values)]
    count = len(valid)
    if count == 0:
        return None
    # By hand: np.std takes three times as long over so few values, and there are dozens a moment.
    mean = float(valid.sum()) / count
    off = valid - mean
    scatter = math.sqrt(float(off @ off) / (count - 1)) if count > 1 else None
    return Reading(mean, scatter)


def _vectors(probe: ProbeRevolutions, kind: str) -> dict[int, VectorReading]:
    found = {
        order: synchronous_average(order, values, phase_known=kind == "events")
        for order, values in probe.vectors.items()
    }
    return {order: vector for order, vector in found.items() if vector is not None}


@dataclass(frozen=True)
class _Means:
    """What the revolutions of a probe say on the whole."""

    gap_v: Reading | None
    gap_um: Reading | None
    peak_to_peak_um: Reading | None
    peak_to_peak_max_um: float | None
    vectors: Mapping[int, VectorReading]

    @classmethod
    def of(cls, rows: ProbeRevolutions, kind: str) -> _Means:
        peak_to_peak = rows.peak_to_peak_um
        finite = peak_to_peak[np.isfinite(peak_to_peak)]
        return cls(
            gap_v=reading_of(rows.gap_v),
            gap_um=reading_of(rows.gap_um),
            peak_to_peak_um=reading_of(finite),
            peak_to_peak_max_um=float(finite.max()) if len(finite) else None,
            vectors=_vectors(rows, kind),
        )

    def measures(self, extremes: GapExtremes) -> Measures:
        """What limits are held against."""
        return Measures(
            peak_to_peak=self.peak_to_peak_um.value if self.peak_to_peak_um else None,
            position=self.gap_um.value if self.gap_um else None,
            first_order=self.vectors[1].vector if 1 in self.vectors else None,
            # One dropped sample voids its revolution, no more, as long as others are healthy.
            fault=extremes.fault_fraction > 0.0 and self.gap_um is None,
        )


def _probe(
    probe: Probe,
    setup: Setup,
    speed_rpm: float | None,
    means: _Means,
    extremes: GapExtremes,
    limits: tuple[LimitReading, ...],
) -> ProbeReading:
    gap, peak_to_peak, vectors = means.gap_um, means.peak_to_peak_um, means.vectors
    values = {
        "peak_to_peak": peak_to_peak.value if peak_to_peak else None,
        "position": gap.value if gap else None,
        "1x": vectors[1].amplitude.value if 1 in vectors else None,
    }
    fault = extremes.fault_fraction > 0.0
    zone: str | None = None
    if setup.severity_zones and peak_to_peak and speed_rpm and probe.kind == "radial":
        zone = zone_of(peak_to_peak.value, speed_rpm, setup.severity_zones)
    return ProbeReading(
        name=probe.name,
        gap_v=means.gap_v,
        gap_um=gap,
        peak_to_peak_um=peak_to_peak,
        peak_to_peak_max_um=means.peak_to_peak_max_um,
        vectors=vectors,
        linear_range=extremes.linear_range,
        outputs_ma=_outputs(probe, setup, values, fault=fault and gap is None),
        circuit_fault=fault,
        fault_fraction=extremes.fault_fraction,
        condition=condition_of(probe.name, limits, setup, fault=fault),
        limits=tuple(x for x in limits if probe.name in setup.limit[x.index].probes),
        zone=zone,
    )


def _outputs(
    probe: Probe, setup: Setup, values: Mapping[str, float | None], *, fault: bool
) -> dict[str, float | None]:
    currents: dict[str, float | None] = {}
    for output in setup.output:
        if output.probe != probe.name:
            continue
        value = values[output.measure]
        if fault:
            currents[output.measure] = current_ma(0.0, *output.range_um, fault=True)
        else:
            currents[output.measure] = (
                None if value is None else current_ma(value, *output.range_um)
            )
    return currents


def _plane(
    capture: Capture,
    setup: Setup,
    plane: Plane,
    table: RevolutionTable,
    probes: Mapping[str, ProbeReading],
    orders: tuple[int, ...],
) -> PlaneReading:
    pair = probes_of(capture, setup, plane)
    if pair is None:
        return PlaneReading(plane.name, None, {}, None)
    s_max = plane_s_max(capture, pair, table)
    s_max = s_max[np.isfinite(s_max)]
    first, second = (probes[p.name] for p in pair)
    angles = pair[0].angle_deg, pair[1].angle_deg
    assert angles[0] is not None
    assert angles[1] is not None
    orbits: dict[int, Ellipse] = {}
    for order in orders:
        if order in first.vectors and order in second.vectors:
            vectors = first.vectors[order].vector, second.vectors[order].vector
            orbits[order] = ellipse(order, *vectors, angles[0], angles[1], setup.machine.rotation)
    mean: tuple[Reading | None, Reading | None] = first.gap_um, second.gap_um
    line = None
    if mean[0] is not None and mean[1] is not None:
        line = centreline(mean[0].value, mean[1].value, pair, plane, setup.machine.rotation)
    return PlaneReading(plane.name, float(s_max.max()) if len(s_max) else None, orbits, line)

"""Readings of a span as text for people: aligned columns, units, scatter, notices."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from analysis.model.results import (
    PlaneReading,
    ProbeReading,
    Reading,
    SpanReadings,
    SpeedReading,
    VectorReading,
)
from analysis.model.span import TimeSpan
from analysis.model.units import LengthUnit

from .caution import CAUTION
from .text_table import text_table

_DASH = "-"
_MEASURES = {"peak_to_peak": "p-p", "position": "position", "1x": "1X"}


def readings_text(readings: SpanReadings, unit: LengthUnit = LengthUnit.UM) -> str:
    """All readings of a span, lengths in `unit`; ends with a line break.

    `±` is the standard deviation over the span's revolutions; a dash is what cannot be known.
    """
    probes = list(readings.probes.values())
    orders = _orders(readings)
    blocks = [_head(readings.span, _speed_line(readings.speed))]
    if probes:
        blocks += [_probe_table(probes, orders, unit), _range_table(probes, unit)]
        blocks.append(_output_table(probes))
    blocks.append(_plane_table(list(readings.planes.values()), orders, unit))
    blocks.append(_limit_table(probes, unit))
    blocks.append([f"Note: {notice}" for notice in readings.notices])
    blocks.append(["± is the standard deviation over the revolutions of the span.", CAUTION])
    return _joined(blocks)


def volts_text(span: TimeSpan, volts: Mapping[str, Reading], notices: Sequence[str] = ()) -> str:
    """Mean volts of every channel, all that can be told without a setup."""
    rows = [[name, _with_scatter(reading, 1.0, 3)] for name, reading in volts.items()]
    return _joined(
        [
            _head(span, None),
            text_table(["Channel", "Gap, V"], rows),
            [f"Note: {notice}" for notice in notices],
            ["± is the standard deviation of the samples.", CAUTION],
        ]
    )


def _joined(blocks: Sequence[Sequence[str]]) -> str:
    return "\n\n".join("\n".join(block) for block in blocks if block) + "\n"


def _head(span: TimeSpan, speed: str | None) -> list[str]:
    lines = [f"Span   {span.start_s:.3f} to {span.end_s:.3f} s ({span.length_s:.3f} s)"]
    return lines if speed is None else [*lines, f"Speed  {speed}"]


def _speed_line(speed: SpeedReading) -> str:
    if speed.mean_rpm is None:
        return f"not known; {speed.revolutions} blocks of 0.1 s stand for revolutions"
    turns = "revolution" if speed.revolutions == 1 else "revolutions"
    if speed.kind == "speed":
        return (
            f"{speed.mean_rpm:.1f} r/min, found near the speed given; {speed.revolutions} {turns}"
        )
    span = ""
    if speed.min_rpm is not None and speed.max_rpm is not None:
        span = f" ({speed.min_rpm:.1f} to {speed.max_rpm:.1f})"
    return f"{speed.mean_rpm:.1f} r/min{span}, {speed.revolutions} {turns}"


def _orders(readings: SpanReadings) -> list[int]:
    found = {order for probe in readings.probes.values() for order in probe.vectors}
    found |= {order for plane in readings.planes.values() for order in plane.orbits}
    return sorted(found)


def _probe_table(
    probes: Sequence[ProbeReading], orders: Sequence[int], unit: LengthUnit
) -> list[str]:
    u, per, digits = unit.value, unit.per_um, unit.decimals
    head = ["Probe", "Gap, V", f"Gap, {u}", f"p-p, {u}", "largest"]
    for order in orders:
        head += [f"{order}X, {u} p-p", "lag, °"]
    head += ["zone", "state"]
    rows = []
    for probe in probes:
        row = [
            probe.name,
            _with_scatter(probe.gap_v, 1.0, 3),
            _with_scatter(probe.gap_um, per, digits),
            _with_scatter(probe.peak_to_peak_um, per, digits),
            _plain(probe.peak_to_peak_max_um, per, digits),
        ]
        for order in orders:
            row += _vector_cells(probe.vectors.get(order), per, digits)
        rows.append([*row, probe.zone or _DASH, _state(probe)])
    return text_table(head, rows)


def _vector_cells(vector: VectorReading | None, per: float, digits: int) -> list[str]:
    if vector is None:
        return [_DASH, _DASH]
    return [
        _with_scatter(vector.amplitude, per, digits),
        _with_scatter(vector.phase_lag_deg, 1.0, 1),
    ]


def _state(probe: ProbeReading) -> str:
    if not probe.circuit_fault:
        return _DASH if probe.condition == "unknown" else probe.condition
    return f"circuit fault in {_percent(probe.fault_fraction)} of the samples"


def _range_table(probes: Sequence[ProbeReading], unit: LengthUnit) -> list[str]:
    u, per, digits = unit.value, unit.per_um, unit.decimals
    rows = []
    for probe in probes:
        reading = probe.linear_range
        if reading is None:
            continue
        rows.append(
            [
                probe.name,
                _plain(reading.min_um, per, digits),
                _plain(reading.max_um, per, digits),
                _plain(reading.margin_um, per, digits),
                _DASH if reading.outside_fraction is None else _percent(reading.outside_fraction),
            ]
        )
    if not rows:
        return []
    head = ["Linear range", f"smallest gap, {u}", f"largest gap, {u}", f"margin, {u}", "outside"]
    return text_table(head, rows)


def _output_table(probes: Sequence[ProbeReading]) -> list[str]:
    rows = [
        [f"{probe.name} {_MEASURES[measure]}", _plain(current, 1.0, 2)]
        for probe in probes
        for measure, current in probe.outputs_ma.items()
    ]
    return text_table(["Current output", "mA"], rows) if rows else []


def _plane_table(
    planes: Sequence[PlaneReading], orders: Sequence[int], unit: LengthUnit
) -> list[str]:
    if not planes:
        return []
    u, per, digits = unit.value, unit.per_um, unit.decimals
    head = ["Plane", f"S max, {u}"]
    for order in orders:
        head += [f"{order}X orbit, {u} p-p", "at, °", "precession"]
    head += [f"x, {u}", f"y, {u}", "eccentricity", "attitude, °"]
    rows = []
    for plane in planes:
        row = [plane.name, _plain(plane.s_max_um, per, digits)]
        for order in orders:
            orbit = plane.orbits.get(order)
            if orbit is None:
                row += [_DASH] * 3
                continue
            major, minor = (_plain(a, per, digits) for a in (orbit.major_um, orbit.minor_um))
            row += [f"{major} x {minor}", _plain(orbit.inclination_deg, 1.0, 1), orbit.precession]
        mean = plane.centreline
        row += [
            _plain(mean.x_um if mean else None, per, digits),
            _plain(mean.y_um if mean else None, per, digits),
            _plain(mean.eccentricity_ratio if mean else None, 1.0, 3),
            _plain(mean.attitude_deg if mean else None, 1.0, 1),
        ]
        rows.append(row)
    return text_table(head, rows)


def _limit_table(probes: Sequence[ProbeReading], unit: LengthUnit) -> list[str]:
    per, digits = unit.per_um, unit.decimals
    rows = []
    for probe in probes:
        for limit in probe.limits:
            if not limit.met:
                continue
            bounds = [
                f"{word} {_plain(bound, per, digits)}"
                for word, bound in (("above", limit.above_um), ("below", limit.below_um))
                if bound is not None
            ]
            value = f"{limit.probe} {_plain(limit.value_um, per, digits)}"
            rows.append([probe.name, f"limit {limit.index + 1}", " or ".join(bounds), value])
    return text_table(["Limit met", "in the setup", unit.value, "value"], rows) if rows else []


def _with_scatter(reading: Reading | None, per: float, digits: int) -> str:
    if reading is None:
        return _DASH
    text = _plain(reading.value, per, digits)
    if reading.scatter is None or text == _DASH:
        return text
    return f"{text} ±{_plain(reading.scatter, per, digits)}"


def _plain(value: float | None, per: float, digits: int) -> str:
    if value is None or not math.isfinite(value):
        return _DASH
    text = f"{value * per:.{digits}f}"
    # No "-0.0": a sign without a size says nothing.
    return text.removeprefix("-") if float(text) == 0.0 else text


def _percent(share: float) -> str:
    percent = 100.0 * share
    return "<0.1 %" if 0.0 < percent < 0.1 else f"{percent:.1f} %"

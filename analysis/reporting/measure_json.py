"""The JSON of `measure` (contract, section 6) as plain data.

Beside the keys of the contract there are, all of them free to be left unread:

- top: `notices`, sentences that belong beside the numbers;
- `speed_rpm.kind`: what a revolution is, `events`, `speed` or `blocks`;
- a probe: `scatter` (standard deviations over the revolutions of `gap_v`, `gap_um` and
  `peak_to_peak_um`), `fault_fraction`, `condition` (instant, without delay and latch), `limits`
  (`index` counts the setup's `[[limit]]` tables from 0), `zone`;
- a vector: `amplitude_scatter_um_pp`, `phase_lag_scatter_deg`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from analysis.model.results import (
    Centreline,
    Ellipse,
    LinearRangeReading,
    PlaneReading,
    ProbeReading,
    Reading,
    SpanReadings,
    VectorReading,
)
from analysis.model.span import TimeSpan

_ALWAYS_TOLD_OUTPUTS = ("position", "peak_to_peak")


def measure_document(
    capture_name: str, readings: SpanReadings, *, orders: Sequence[int] = (1, 2)
) -> dict[str, Any]:
    """Readings of a span as the object that `measure --json` prints.

    Lengths are µm, angles degrees; what is not known is `None`. Orders that nothing is known of are
    there too, with `None` in them.
    """
    speed = readings.speed
    return {
        "capture": capture_name,
        "span_s": [readings.span.start_s, readings.span.end_s],
        "speed_rpm": {
            "mean": _number(speed.mean_rpm),
            "min": _number(speed.min_rpm),
            "max": _number(speed.max_rpm),
            "revolutions": speed.revolutions,
            "kind": speed.kind,
        },
        "probes": {name: _probe(probe, orders) for name, probe in readings.probes.items()},
        "planes": {name: _plane(plane, orders) for name, plane in readings.planes.items()},
        "notices": list(readings.notices),
    }


def volts_document(
    capture_name: str,
    span: TimeSpan,
    volts: Mapping[str, Reading],
    notices: Sequence[str] = (),
    *,
    orders: Sequence[int] = (1, 2),
) -> dict[str, Any]:
    """The same object for a capture without a setup: one entry a channel, lengths `None`."""
    probes = {}
    for name, reading in volts.items():
        probes[name] = {
            "gap_v": _number(reading.value),
            "gap_um": None,
            "peak_to_peak_um": None,
            "peak_to_peak_max_um": None,
            "vectors": {str(order): _vector(None) for order in orders},
            "linear_range": _linear_range(None),
            "outputs_ma": dict.fromkeys(_ALWAYS_TOLD_OUTPUTS),
            "circuit_fault": None,
        }
    return {
        "capture": capture_name,
        "span_s": [span.start_s, span.end_s],
        "speed_rpm": {"mean": None, "min": None, "max": None, "revolutions": 0, "kind": None},
        "probes": probes,
        "planes": {},
        "notices": list(notices),
    }


def _probe(probe: ProbeReading, orders: Sequence[int]) -> dict[str, Any]:
    outputs = {**dict.fromkeys(_ALWAYS_TOLD_OUTPUTS), **probe.outputs_ma}
    return {
        "gap_v": _value(probe.gap_v),
        "gap_um": _value(probe.gap_um),
        "peak_to_peak_um": _value(probe.peak_to_peak_um),
        "peak_to_peak_max_um": _number(probe.peak_to_peak_max_um),
        "vectors": {str(order): _vector(probe.vectors.get(order)) for order in orders},
        "linear_range": _linear_range(probe.linear_range),
        "outputs_ma": {measure: _number(current) for measure, current in outputs.items()},
        "circuit_fault": probe.circuit_fault,
        "fault_fraction": _number(probe.fault_fraction),
        "scatter": {
            "gap_v": _scatter(probe.gap_v),
            "gap_um": _scatter(probe.gap_um),
            "peak_to_peak_um": _scatter(probe.peak_to_peak_um),
        },
        "condition": probe.condition,
        "limits": [
            {
                "index": limit.index,
                "value_um": _number(limit.value_um),
                "above_um": _number(limit.above_um),
                "below_um": _number(limit.below_um),
                "met": limit.met,
            }
            for limit in probe.limits
        ],
        "zone": probe.zone,
    }


def _vector(vector: VectorReading | None) -> dict[str, Any]:
    lag = vector.phase_lag_deg if vector else None
    return {
        "amplitude_um_pp": _value(vector.amplitude if vector else None),
        "phase_lag_deg": _value(lag),
        "amplitude_scatter_um_pp": _scatter(vector.amplitude if vector else None),
        "phase_lag_scatter_deg": _scatter(lag),
    }


def _linear_range(reading: LinearRangeReading | None) -> dict[str, Any]:
    if reading is None:
        return dict.fromkeys(("min_um", "max_um", "margin_um", "outside_fraction"))
    return {
        "min_um": _number(reading.min_um),
        "max_um": _number(reading.max_um),
        "margin_um": _number(reading.margin_um),
        "outside_fraction": _number(reading.outside_fraction),
    }


def _plane(plane: PlaneReading, orders: Sequence[int]) -> dict[str, Any]:
    return {
        "s_max_um": _number(plane.s_max_um),
        "orbit": {str(order): _ellipse(plane.orbits.get(order)) for order in orders},
        "centreline": _centreline(plane.centreline),
    }


def _ellipse(orbit: Ellipse | None) -> dict[str, Any]:
    if orbit is None:
        return dict.fromkeys(("major_um_pp", "minor_um_pp", "inclination_deg", "precession"))
    return {
        "major_um_pp": _number(orbit.major_um),
        "minor_um_pp": _number(orbit.minor_um),
        "inclination_deg": _number(orbit.inclination_deg),
        "precession": orbit.precession,
    }


def _centreline(mean: Centreline | None) -> dict[str, Any]:
    if mean is None:
        return dict.fromkeys(("x_um", "y_um", "eccentricity_ratio", "attitude_deg"))
    return {
        "x_um": _number(mean.x_um),
        "y_um": _number(mean.y_um),
        "eccentricity_ratio": _number(mean.eccentricity_ratio),
        "attitude_deg": _number(mean.attitude_deg),
    }


def _value(reading: Reading | None) -> float | None:
    return None if reading is None else _number(reading.value)


def _scatter(reading: Reading | None) -> float | None:
    return None if reading is None else _number(reading.scatter)


def _number(value: float | None) -> float | None:
    """A plain float; what is no number is missing."""
    return float(value) if value is not None and math.isfinite(value) else None

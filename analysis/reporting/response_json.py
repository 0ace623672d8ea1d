"""The JSON of `response` (contract, section 6) as plain data.

Beside the keys of the contract there are, all of them free to be left unread:

- top: `capture`, `operating_rpm`, `planes`, `notices` (sentences);
- a slow-roll vector: `source` (`proposed`, `asked` or `typed`), `revolutions`, `scatter_um_pp`,
  `doubts`; the whole is `null` where none is taken off, and the probe's `notices` say why;
- a critical speed: `phase_lag_deg`, `phase_slope_factor`, `phase_change_deg`, `direction` (`up`,
  `down` or `unknown`), `time_s`, `sweep_rpm_per_s`, `sweep` (what the rate does to the peak, by the
  model of one mode), `noise_um_pp`, `doubts` (`[{flag, sentence}]`), `smoothed` (the same found on
  vectors averaged over `turns` turns; `null` where it does not show there). One of two half-power
  speeds can be `null`; then the factor is `null`, too;
- a probe: `not_counted` (peaks that are not called critical speeds, with the reason), `passages`,
  `notices`;
- a plane: `axis_deg` (of its first principal direction, counter-clockwise from +x; `null` where
  none stands out), `split`, `directions` (each with `axis_deg` and `critical_speeds`), `notices`.

Each critical speed is there once a probe: of several passages through it the least doubtful.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from analysis.model.response_results import (
    CriticalSpeed,
    Doubt,
    NotCounted,
    PassageResponse,
    PlaneResponse,
    Response,
    ResponseResult,
    SlowRoll,
    SweepEffect,
)
from analysis.rotor.vectors import amplitude_and_lag

_SAME_SPEED = 0.05


def response_document(result: ResponseResult, notices: Sequence[str] = ()) -> dict[str, Any]:
    """A response as the object that `response --json` prints; lengths µm p-p, angles degrees."""
    return {
        "capture": result.source,
        "operating_rpm": list(result.operating_rpm) if result.operating_rpm else None,
        "probes": {name: _probe(response) for name, response in result.probes.items()},
        "planes": {name: _plane(plane) for name, plane in result.planes.items()},
        "notices": [*notices, *result.notices],
    }


def _probe(response: Response) -> dict[str, Any]:
    return {
        "slow_roll": _slow_roll(response.slow_roll),
        **_found(response),
    }


def _found(response: Response) -> dict[str, Any]:
    notices = [*response.notices, *(n for each in response.passages for n in each.notices)]
    return {
        "critical_speeds": [
            _critical(critical, _smoothed(critical, response), response.smoothing_turns)
            for critical in response.criticals
        ],
        "not_counted": [_left(one) for each in response.passages for one in each.not_counted],
        "passages": [_passage(each) for each in response.passages],
        "notices": [_doubt(notice) for notice in notices],
    }


def _slow_roll(slow_roll: SlowRoll | None) -> dict[str, Any] | None:
    if slow_roll is None:
        return None
    amplitude, lag = amplitude_and_lag(slow_roll.vector)
    return {
        "speed_rpm": _number(slow_roll.speed_rpm),
        "amplitude_um_pp": amplitude,
        "phase_lag_deg": lag,
        "source": slow_roll.source,
        "revolutions": slow_roll.revolutions,
        "scatter_um_pp": _number(slow_roll.scatter_um),
        "doubts": [_doubt(doubt) for doubt in slow_roll.doubts],
    }


def _critical(
    critical: CriticalSpeed, smoothed: CriticalSpeed | None, turns: int
) -> dict[str, Any]:
    low, high = critical.half_power_rpm
    return {
        "speed_rpm": critical.speed_rpm,
        "amplitude_um_pp": critical.amplitude_um_pp,
        "half_power_rpm": [_number(low), _number(high)],
        "amplification_factor": _number(critical.amplification_factor),
        "separation_margin_percent": _number(critical.separation_margin_percent),
        "required_margin_percent": _number(critical.required_margin_percent),
        "phase_lag_deg": critical.phase_lag_deg,
        "phase_slope_factor": _number(critical.phase_slope_factor),
        "phase_change_deg": critical.phase_change_deg,
        "direction": critical.direction,
        "time_s": _number(critical.time_s),
        "sweep_rpm_per_s": _number(critical.rate),
        "sweep": _sweep(critical.sweep),
        "noise_um_pp": _number(critical.sd_um),
        "doubts": [_doubt(doubt) for doubt in critical.doubts],
        "smoothed": None
        if smoothed is None
        else {
            "turns": turns,
            "speed_rpm": smoothed.speed_rpm,
            "amplitude_um_pp": smoothed.amplitude_um_pp,
            "amplification_factor": _number(smoothed.amplification_factor),
        },
    }


def _smoothed(critical: CriticalSpeed, response: Response) -> CriticalSpeed | None:
    """The critical speed as it shows after averaging, or `None`."""
    near = [
        each
        for each in response.smoothed
        if abs(each.speed_rpm / critical.speed_rpm - 1.0) < _SAME_SPEED
    ]
    return min(near, key=lambda each: abs(each.speed_rpm - critical.speed_rpm), default=None)


def _sweep(sweep: SweepEffect | None) -> dict[str, Any] | None:
    if sweep is None:
        return None
    return {
        "shift_percent": sweep.shift_percent,
        "lowering_percent": sweep.lowering_percent,
        "slow_speed_rpm": sweep.slow_speed_rpm,
        "slow_amplification_factor": _number(sweep.slow_factor),
    }


def _left(one: NotCounted) -> dict[str, Any]:
    return {
        "speed_rpm": one.speed_rpm,
        "amplitude_um_pp": one.amplitude_um_pp,
        "direction": one.direction,
        **_doubt(one.doubt),
    }


def _passage(each: PassageResponse) -> dict[str, Any]:
    passage = each.passage
    return {
        "direction": passage.direction,
        "speed_rpm": [passage.from_rpm, passage.to_rpm],
        "time_s": None if passage.from_s is None else [passage.from_s, passage.to_s],
        "points": len(passage.rows),
        "noise_um_pp": _number(each.noise_um),
        "critical_speeds_rpm": [critical.speed_rpm for critical in each.criticals],
    }


def _plane(plane: PlaneResponse) -> dict[str, Any]:
    directions = []
    if plane.axis_deg is not None:
        for response, extra in ((plane.first, 0.0), (plane.second, 90.0)):
            if response is not None:
                directions.append(
                    {"axis_deg": (plane.axis_deg + extra) % 180.0, **_found(response)}
                )
    return {
        "axis_deg": _number(plane.axis_deg),
        "split": plane.split,
        "directions": directions,
        "notices": [_doubt(notice) for notice in plane.notices],
    }


def _doubt(doubt: Doubt) -> dict[str, str]:
    return {"flag": doubt.flag, "sentence": doubt.sentence}


def _number(value: float | None) -> float | None:
    return float(value) if value is not None and math.isfinite(value) else None

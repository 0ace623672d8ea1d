"""Runout as a whole waveform: measured at slow roll, or out of the vectors that a setup keeps."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from analysis.jobs import SILENT, Progress
from analysis.model.capture import Capture
from analysis.model.response_results import Doubt, Runout, SlowRoll
from analysis.model.results import Ints, RevolutionTable
from analysis.model.setup import Probe, Setup, SlowRollVector
from analysis.model.span import TimeSpan
from analysis.rotor.gap import gap_from_volts
from analysis.rotor.response.responses import points_of
from analysis.rotor.response.runout import POINTS, angle_at, order_vector, wave_of
from analysis.rotor.response.slow_roll import (
    Refused,
    at_speed,
    propose,
    runout_waveform,
    typed,
)
from analysis.rotor.revolutions import fault_mask
from analysis.rotor.turns import Turns, find_turns
from analysis.rotor.vectors import amplitude_and_lag, vector_from

KEPT_ORDERS = tuple(range(1, 13))
"""Orders of a runout wave that a setup keeps; what lies above is scratches, and noise."""

LEAST_KEPT_UM = 0.05
"""Smaller orders, µm p-p, are not kept."""

_MOST_TURNS = 200
_AROUND = 0.03
"""Revolutions within this share of the slow-roll speed are averaged, at most so many."""


@dataclass(frozen=True, eq=False)
class RunoutResult:
    """Runout by probe, and why there is none of others."""

    waves: Mapping[str, Runout] = field(default_factory=dict)
    refused: Mapping[str, Doubt] = field(default_factory=dict)


def measured_runout(
    capture: Capture,
    setup: Setup,
    table: RevolutionTable,
    speed_rpm: float | None = None,
    progress: Progress = SILENT,
) -> RunoutResult:
    """The runout of every radial probe, averaged by shaft angle over a stretch of slow roll.

    Args:
        capture: its samples are read there.
        setup: says what the channels are.
        table: the revolutions of the whole capture.
        speed_rpm: the speed of the slow roll; where it is proposed when not given.
        progress: told after every probe.
    """
    waves: dict[str, Runout] = {}
    refused: dict[str, Doubt] = {}
    radial = [p for p in setup.probe if p.kind == "radial" and p.name in table.probes]
    for rank, probe in enumerate(radial):
        progress.report(rank / len(radial), f"runout of {probe.name}")
        found = _measured(capture, setup, table, probe, speed_rpm)
        if isinstance(found, Runout):
            waves[probe.name] = found
        else:
            refused[probe.name] = found
    return RunoutResult(waves, refused)


def _measured(
    capture: Capture, setup: Setup, table: RevolutionTable, probe: Probe, speed_rpm: float | None
) -> Runout | Doubt:
    reference = setup.phase_reference
    if table.kind != "events" or reference is None or reference.events_per_turn != 1:
        return Doubt(
            "no-angle", "runout has its place on the shaft, which only one event a turn can tell"
        )
    points = points_of(table, probe.name)
    slow_roll = propose(points) if speed_rpm is None else at_speed(points, speed_rpm)
    if isinstance(slow_roll, Refused):
        return slow_roll.reason
    assert slow_roll.speed_rpm is not None
    rows = _stretch(table, slow_roll.speed_rpm)
    span = TimeSpan(float(table.start_s[rows[0]]), float(table.end_s[rows[-1]]))
    turns = find_turns(capture, setup, span)
    times, volts = capture.channels[probe.channel].volts_in(span)
    gap = gap_from_volts(volts, probe)
    gap[fault_mask(volts, probe)] = np.nan
    angle = angle_at(times, turns.angles)
    if not (np.isfinite(gap) & np.isfinite(angle)).any():
        return Doubt("no-samples", "no slow-roll vector: its samples cannot be read")
    wave = runout_waveform(angle, -gap, POINTS)
    return Runout(wave, "measured", _mean_speed(turns), len(turns))


def _stretch(table: RevolutionTable, speed_rpm: float) -> Ints:
    """The longest run of revolutions at about this speed."""
    near = np.flatnonzero(np.abs(table.speed_rpm / speed_rpm - 1.0) <= _AROUND)
    if len(near) == 0:
        near = np.array([int(np.nanargmin(np.abs(table.speed_rpm - speed_rpm)))])
    runs = np.split(near, np.flatnonzero(np.diff(near) > 1) + 1)
    longest: Ints = max(runs, key=len)[:_MOST_TURNS]
    return longest


def _mean_speed(turns: Turns) -> float | None:
    return float(np.mean(turns.speed_rpm)) if len(turns) else None


def kept_runout(setup: Setup) -> dict[str, Runout]:
    """The runout of every probe whose slow-roll vectors the setup keeps: their sum."""
    waves = {}
    for probe in setup.probe:
        vectors = {e.order: vector_from(e.um_pp, e.lag_deg) for e in probe.slow_roll}
        if vectors:
            speed = next((each.rpm for each in probe.slow_roll if each.rpm is not None), None)
            waves[probe.name] = Runout(wave_of(vectors), "kept", speed, None)
    return waves


def vectors_to_keep(runout: Runout) -> dict[int, complex]:
    """The orders of a runout wave that are worth keeping in a setup."""
    found = {order: order_vector(runout, order) for order in KEPT_ORDERS}
    return {n: vector for n, vector in found.items() if n == 1 or abs(vector) >= LEAST_KEPT_UM}


def vectors_of(waves: Mapping[str, Runout]) -> dict[str, tuple[SlowRoll, ...]]:
    """The vectors of every order of a runout wave that is worth keeping, by probe."""
    return {
        name: tuple(
            typed(order, vector, wave.speed_rpm) for order, vector in vectors_to_keep(wave).items()
        )
        for name, wave in waves.items()
    }


def setup_with(setup: Setup, off: Mapping[str, tuple[SlowRoll, ...]]) -> Setup:
    """The setup that keeps these vectors, in place of those of the same orders that it had."""
    probes = []
    for probe in setup.probe:
        found = off.get(probe.name, ())
        entries = {each.order: each for each in probe.slow_roll}
        for each in found:
            amplitude, lag = amplitude_and_lag(each.vector)
            entries[each.order] = SlowRollVector(
                order=each.order,
                um_pp=round(amplitude, 3),
                lag_deg=round(lag, 2),
                rpm=None if each.speed_rpm is None else round(each.speed_rpm, 1),
            )
        kept = tuple(entries[order] for order in sorted(entries))
        probes.append(probe.model_copy(update={"slow_roll": kept}) if found else probe)
    return setup.model_copy(update={"probe": tuple(probes)})

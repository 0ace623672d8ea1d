"""A calibrator run: one probe before a micrometer or a shaker, held against what was applied.

Steady stretches are found by themselves (`stretches`), each is read as every span is (gap and
unfiltered p-p over blocks of 0.1 s, contract section 5), and given to the applied steps in the
order of time (`matching`). Errors are in µm and in per cent of full scale.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from analysis.jobs import SILENT, Part, Progress
from analysis.model.calibration_entries import Row
from analysis.model.calibration_results import CalibrationTable, CalibratorRun, SteadyStretch
from analysis.model.capture import Capture, Channel
from analysis.model.errors import InputError
from analysis.model.setup import Probe, Setup
from analysis.model.span import TimeSpan
from analysis.rotor.gap import gap_from_volts
from analysis.rotor.revolutions import fault_mask, revolution_table
from analysis.signal.peak import strongest_line

from .run_judge import RunRequest, held_against
from .stretches import StepSettings, steady_stretches

_PERIODS_A_BLOCK = 2.0
_FIT_SECONDS = 4.0


def calibrator_run(
    capture: Capture, setup: Setup, request: RunRequest, progress: Progress = SILENT
) -> CalibratorRun:
    """Find the steps of a run, read them, and hold them against what was applied.

    Args:
        capture: the capture of the run.
        setup: its setup: scale factor or curve of the probe, outputs for full scales and currents.
        request: probe, applied steps in the order of time, tolerances.
        progress: told how far it is.

    Raises:
        InputError: the setup has no such probe, or the capture not its channel.
        JobCancelled: through `progress`.
    """
    probe, channel = _probe_and_channel(capture, setup, request.probe)
    span = request.span or channel.span
    spans = steady_stretches(channel, probe, span, request.settings, Part(progress, 0.0, 0.6))
    reading = Part(progress, 0.6, 1.0)
    stretches = []
    for number, found in enumerate(spans):
        reading.report(number / len(spans), "reading the steps")
        stretch = _read(capture, probe, channel, found, request.settings)
        if stretch is not None:
            stretches.append(stretch)
    return held_against(stretches, setup, probe, request)


def table_from_run(run: CalibratorRun, *, largest_vibration_um: float = 10.0) -> CalibrationTable:
    """The position steps of a run as a calibration table: applied gap, mean volts read.

    Steps with more vibration than `largest_vibration_um` p-p are left out, and of a gap that was
    set twice the first counts.

    Raises:
        InputError: fewer than three steps, or volts that do not fall as the gap grows.
    """
    rows: dict[float, float] = {}
    for step in run.steps:
        if step.applied is None or step.stretch is None or step.applied.gap_um is None:
            continue
        level = step.stretch.sine_um_pp or 0.0
        if max(level, step.applied.peak_to_peak_um or 0.0) <= largest_vibration_um:
            rows.setdefault(step.applied.gap_um, step.stretch.gap_v)
    ordered: list[Row] = sorted(rows.items())
    if len(ordered) < 3:
        raise InputError(
            f"run of {run.probe}: {len(ordered)} steps of position make no calibration table; "
            "three gaps without vibration are needed"
        )
    for (gap_a, volts_a), (gap_b, volts_b) in pairwise(ordered):
        if volts_b >= volts_a:
            raise InputError(
                f"run of {run.probe}: {volts_b:.3f} V at {gap_b:g} µm does not lie below "
                f"{volts_a:.3f} V at {gap_a:g} µm; check the applied gaps and their order"
            )
    return CalibrationTable(tuple(ordered), source=f"run of {run.probe}")


def _probe_and_channel(capture: Capture, setup: Setup, name: str) -> tuple[Probe, Channel]:
    try:
        probe = setup.probe_named(name)
    except KeyError:
        there = ", ".join(p.name for p in setup.probe) or "none"
        raise InputError(
            f"{capture.name}: the setup has no probe {name}; there are: {there}"
        ) from None
    channel = capture.channels.get(probe.channel)
    if channel is None:
        raise InputError(f"{capture.name}: the capture has no channel {probe.channel} of {name}")
    return probe, channel


def _read(
    capture: Capture, probe: Probe, channel: Channel, span: TimeSpan, settings: StepSettings
) -> SteadyStretch | None:
    """One stretch: readings by the way of all readings, and the sinusoid in it."""
    middle, half = (span.start_s + span.end_s) / 2.0, _FIT_SECONDS / 2.0
    _, volts = channel.volts_in(
        TimeSpan(max(span.start_s, middle - half), min(span.end_s, middle + half))
    )
    gap = gap_from_volts(volts, probe)
    gap[fault_mask(volts, probe)] = np.nan
    line = strongest_line(gap, channel.sample_rate_hz, low_hz=settings.lowest_hz / 2.0)
    # Blocks of 0.1 s must hold whole movements: slow vibration is read period by period.
    slow = line is not None and line.frequency_hz * 0.1 < _PERIODS_A_BLOCK
    alone = Setup(probe=(probe,))
    speed = line.frequency_hz * 60.0 if slow and line is not None else None
    table = revolution_table(capture, alone, span, orders=(1,), speed_rpm=speed)
    found = table.probes[probe.name]
    good = ~found.fault
    if not good.any():
        return None
    gaps, p_p = found.gap_um[good], found.peak_to_peak_um[good]
    return SteadyStretch(
        start_s=span.start_s,
        end_s=span.end_s,
        gap_um=float(np.mean(gaps)),
        gap_v=float(np.mean(found.gap_v[good])),
        gap_scatter_um=float(np.std(gaps, ddof=1)) if len(gaps) > 1 else None,
        peak_to_peak_um=float(np.mean(p_p)),
        peak_to_peak_max_um=float(np.max(p_p)),
        sine_um_pp=2.0 * line.amplitude if line is not None else None,
        frequency_hz=line.frequency_hz if line is not None else None,
    )

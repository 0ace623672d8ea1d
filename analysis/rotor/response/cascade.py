"""Cascade: spectra of a run against speed or against time, in orders or in Hz."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from analysis.jobs import SILENT, Progress
from analysis.model.capture import Capture
from analysis.model.response_results import Cascade, Passage, ResponsePoints
from analysis.model.results import Complexes, Floats, Ints
from analysis.model.setup import Probe, Setup
from analysis.model.span import TimeSpan
from analysis.rotor.gap import gap_from_volts
from analysis.rotor.order_spectrum import motion_spectrum
from analysis.rotor.pair import pair_motion
from analysis.rotor.revolutions import fault_mask
from analysis.rotor.turns import Turns
from analysis.signal.spectrum import Scaling
from analysis.signal.windows import WindowName

from .passages import passages_of

MOST_ROWS = 1000
_MOST_LINES = 20_000


@dataclass(frozen=True)
class CascadeChoice:
    """Which cascade is wanted.

    Args:
        against: rows evenly spaced in speed (of one passage) or in time.
        axis: of the lines.
        two_sided: forward and backward of a plane; else of one probe.
        rows: how many spectra, at most; no more than there are stretches half apart.
        turns: revolutions a row is taken over. In Hz a row lasts as long as these at mean speed.
        highest: last line, orders or Hz.
        window: weighting.
        scaling: of the amplitude.
        passage: which passage, for rows against speed, from 0; the longest when not given.
    """

    against: Literal["speed", "time"] = "speed"
    axis: Literal["orders", "hz"] = "orders"
    two_sided: bool = True
    rows: int = 200
    turns: int = 16
    highest: float = 4.0
    window: WindowName = "hann"
    scaling: Scaling = "p-p"
    passage: int | None = None


def cascade(
    capture: Capture,
    setup: Setup,
    turns: Turns,
    probes: tuple[Probe, ...],
    choice: CascadeChoice = CascadeChoice(),
    progress: Progress = SILENT,
) -> Cascade | None:
    """The spectra of a run.

    Args:
        capture: the capture.
        setup: its setup, for the rotation.
        turns: revolutions between events, of `find_turns`.
        probes: the two of a plane for `two_sided`, else one.
        choice: what is wanted.
        progress: told after each row.

    Returns:
        `None` where no stretch is long enough, or the shaft angle is not known.
    """
    if turns.kind != "events" or len(turns) < choice.turns or not probes:
        return None
    centres = _centres(turns, choice)
    mean_turn = float(np.mean(turns.end_s - turns.start_s))
    seconds = choice.turns * mean_turn if choice.axis == "hz" else None
    if seconds is not None:
        # A row in Hz lasts equally long everywhere, also where turns are short.
        first_s, last_s = capture.span.start_s + seconds / 2.0, capture.span.end_s - seconds / 2.0
        centres = centres[(centres >= first_s) & (centres <= last_s)]
    if len(centres) == 0:
        return None
    step = 1.0 / choice.turns if seconds is None else 1.0 / seconds
    count = min(round(choice.highest / step), _MOST_LINES)
    first = -count if choice.two_sided else 0
    frequency: Floats = np.arange(first, count + 1, dtype=np.float64) * step
    rows = np.full((len(centres), len(frequency)), np.nan)
    speeds = np.full(len(centres), np.nan)
    for k, centre in enumerate(centres):
        around = turns.nearest(float(centre), choice.turns)
        if len(np.unique(around.piece)) != 1:
            continue  # a standstill between
        speeds[k] = 60.0 * len(around) / float(around.end_s[-1] - around.start_s[0])
        line = _row(capture, setup, around, probes, choice, float(centre), seconds)
        if line is not None:
            lines = np.round(line[0] / step).astype(np.int64) - first
            inside = (lines >= 0) & (lines < len(frequency))
            rows[k, lines[inside]] = line[1][inside]
        progress.report((k + 1) / len(centres), "cascade")
    known = np.isfinite(speeds)
    return Cascade(
        frequency=frequency,
        amplitude_um=rows[known],
        time_s=centres[known],
        speed_rpm=speeds[known],
        axis=choice.axis,
        against=choice.against,
        two_sided=choice.two_sided,
        scaling=choice.scaling,
        window=choice.window,
        turns=None if seconds is not None else choice.turns,
        seconds=seconds,
    )


def _centres(turns: Turns, choice: CascadeChoice) -> Floats:
    """Times of the rows: evenly spaced in time, or where one passage has evenly spaced speeds."""
    middle = (turns.start_s + turns.end_s) / 2.0
    half = choice.turns // 2
    inner = middle[half : len(middle) - half] if len(middle) > 2 * half else middle[:1]
    # Rows closer than half of what they are taken over tell nothing new.
    rows = min(choice.rows, MOST_ROWS, max(2 * len(turns) // choice.turns, 1))
    if choice.against == "time":
        return np.linspace(inner[0], inner[-1], rows)
    points = ResponsePoints(
        1, middle, turns.speed_rpm, np.ones(len(turns), dtype=np.complex128), True
    )
    found = passages_of(points)
    if not found:
        return inner[:1]
    passage = _wanted(found, choice.passage)
    return _at_even_speeds(middle, turns.speed_rpm, passage.rows, rows)


def _wanted(passages: tuple[Passage, ...], index: int | None) -> Passage:
    if index is not None and 0 <= index < len(passages):
        return passages[index]
    return max(passages, key=lambda each: abs(each.to_rpm - each.from_rpm))


def _at_even_speeds(middle: Floats, speed: Floats, rows: Ints, count: int) -> Floats:
    """Times at which a passage goes through evenly spaced speeds, lowest first."""
    way = speed[rows] if speed[rows[-1]] >= speed[rows[0]] else speed[rows][::-1]
    times = middle[rows] if speed[rows[-1]] >= speed[rows[0]] else middle[rows][::-1]
    # Where the speed falls back for a moment the later turns of the same speed do not count.
    highest = np.maximum.accumulate(way)
    new = np.flatnonzero(np.diff(highest, prepend=highest[0] - 1.0) > 0.0)
    out: Floats = np.interp(np.linspace(highest[0], highest[-1], count), highest[new], times[new])
    return out


def _row(
    capture: Capture,
    setup: Setup,
    around: Turns,
    probes: tuple[Probe, ...],
    choice: CascadeChoice,
    centre: float,
    seconds: float | None,
) -> tuple[Floats, Floats] | None:
    """Lines and amplitudes of one row."""
    if seconds is None:
        span = TimeSpan(float(around.start_s[0]), float(around.end_s[-1]))
        # A few samples beyond the ends, which the cubic between samples leans on.
        wide = span.widened(0.05 * span.length_s).clipped_to(capture.span)
    else:
        wide = TimeSpan(centre - seconds / 2.0, centre + seconds / 2.0).clipped_to(capture.span)
        if wide.length_s < 0.99 * seconds:
            return None
    times, motion = _motion(capture, probes, wide, choice.two_sided)
    if seconds is not None and len(times) > 2:
        count = round(seconds * (len(times) - 1) / (times[-1] - times[0]))
        times, motion = times[:count], motion[:count]
    spectrum = motion_spectrum(
        times,
        motion,
        around if seconds is None else None,
        axis=choice.axis,
        window_name=choice.window,
        scaling=choice.scaling,
        clockwise=setup.machine.rotation == "cw",
    )
    return None if spectrum is None else (spectrum.frequency, spectrum.amplitude_um)


def _motion(
    capture: Capture, probes: tuple[Probe, ...], span: TimeSpan, two_sided: bool
) -> tuple[Floats, Floats | Complexes]:
    """Sample times and displacement: `x + jy` of a pair, else of the first probe."""
    if two_sided and len(probes) == 2:
        motion = pair_motion(capture, (probes[0], probes[1]), span)
        return motion.times_s, motion.x_um + 1j * motion.y_um
    times, volts = capture.channels[probes[0].channel].volts_in(span)
    gap = gap_from_volts(volts, probes[0])
    gap[fault_mask(volts, probes[0])] = np.nan
    return times, -gap

"""The timeline: speed, p-p and instant states over the whole capture, in one pass."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.jobs import SILENT, Progress
from analysis.model.capture import Capture
from analysis.model.results import Floats, RevolutionTable
from analysis.model.setup import Setup
from analysis.model.span import TimeSpan
from analysis.protection.limits import conditions_over
from analysis.rotor.revolutions import revolution_table


@dataclass(frozen=True, eq=False)
class TimelineResult:
    """One value a revolution, shapes (r,), over the part of the capture that has been read.

    `condition` holds the codes of `analysis.protection.limits.CONDITION_CODES`; states are instant
    ones, without delay and latch. `done_s` is how far the pass has come.
    """

    span: TimeSpan
    done_s: float
    time_s: Floats
    speed_rpm: Floats
    peak_to_peak_um: Mapping[str, Floats]
    condition: Mapping[str, NDArray[np.int8]]
    table: RevolutionTable


def timeline_of(
    span: TimeSpan, table: RevolutionTable, setup: Setup, done_s: float
) -> TimelineResult:
    """The timeline that a revolution table makes."""
    return TimelineResult(
        span=span,
        done_s=done_s,
        time_s=(table.start_s + table.end_s) / 2.0,
        speed_rpm=table.speed_rpm,
        peak_to_peak_um={name: p.peak_to_peak_um for name, p in table.probes.items()},
        condition=conditions_over(table, setup),
        table=table,
    )


def answer_timeline(
    capture: Capture,
    setup: Setup,
    *,
    speed_rpm: float | None = None,
    progress: Progress = SILENT,
    partial: Callable[[TimelineResult], None] | None = None,
) -> TimelineResult:
    """Read the whole capture once; `partial` is called with what there is while it fills."""

    def show(table: RevolutionTable) -> None:
        if partial is not None:
            done = float(table.end_s[-1]) if len(table) else capture.span.start_s
            partial(timeline_of(capture.span, table, setup, done))

    table = revolution_table(
        capture,
        setup,
        capture.span,
        speed_rpm=speed_rpm,
        progress=progress,
        partial=show if partial is not None else None,
    )
    return timeline_of(capture.span, table, setup, capture.span.end_s)

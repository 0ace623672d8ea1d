"""The timeline: speed, p-p and instant states over the whole capture, in one pass."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.files.overview_cache import OverviewCache
from analysis.files.overview_key import method_of
from analysis.files.overview_table import load_table, store_table, table_key
from analysis.jobs import SILENT, Progress
from analysis.model.capture import Capture
from analysis.model.results import Floats, RevolutionTable
from analysis.model.setup import Setup
from analysis.model.span import TimeSpan
from analysis.protection.limits import conditions_over
from analysis.rotor.revolutions import revolution_table

_ORDERS = (1, 2)
_MADE_BY = ("analysis.rotor", "analysis.signal", "analysis.model")


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
    cache: OverviewCache | None = None,
) -> TimelineResult:
    """Read the whole capture once; `partial` is called with what there is while it fills.

    With a `cache`, a table that was made of this capture before is taken from there at once, and
    a new one is kept. States are worked out anew each time: limits may have moved.
    """
    key = None if cache is None else _key(capture, setup, speed_rpm)
    known = None if cache is None or key is None else load_table(cache, key)
    if known is not None:
        return timeline_of(capture.span, known, setup, capture.span.end_s)

    def show(table: RevolutionTable) -> None:
        if partial is not None:
            done = float(table.end_s[-1]) if len(table) else capture.span.start_s
            partial(timeline_of(capture.span, table, setup, done))

    table = revolution_table(
        capture,
        setup,
        capture.span,
        orders=_ORDERS,
        speed_rpm=speed_rpm,
        progress=progress,
        partial=show if partial is not None else None,
    )
    # Once more: a file that changed while it was read is not what the key says.
    if cache is not None and key is not None and _key(capture, setup, speed_rpm) == key:
        store_table(cache, key, table)
    return timeline_of(capture.span, table, setup, capture.span.end_s)


def _key(capture: Capture, setup: Setup, speed_rpm: float | None) -> str | None:
    method = method_of(*_MADE_BY)
    return table_key(capture, setup, orders=_ORDERS, speed_rpm=speed_rpm, method=method)

"""Is the time column even? A capture has one rate, so a break in its times must not pass."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from analysis.model.capture import Floats, SampleSource
from analysis.model.errors import InputError

from .capture_facts import check_rate, nice_rate
from .csv_even import TimeFacts, at_most_off
from .csv_plan import SAY_THE_COLUMNS, CsvPlan
from .wording import file_error

EVEN_WITHIN = 0.01
"""Share of a sample interval that a time may lie off its place (contract, section 3)."""

_FIRST_ROWS = 1_000_000
"""Rows that the usual step and a clock's resolution are taken from."""

_PIECE = 100_000
"""Rows that are looked at in one go: few enough to stay at hand from one step to the next."""

_PROVED_WITHIN = 0.5
"""Share of what is allowed below which a bound needs no second look, rounding and all."""


def rate_from_times(plan: CsvPlan, times: SampleSource, facts: Sequence[TimeFacts]) -> float:
    """The sampling rate, Hz, of a time column; every time lies within 1 % of an interval.

    `facts` are those of the blocks of `times`.

    Raises:
        InputError: names the line where the times break.
    """
    rows = len(times)
    if rows < 2:
        _refuse_missing(plan, times)
        raise file_error(
            plan.path, "one row alone has no sampling rate", "add # sample_rate_hz or more rows"
        )
    first, last = _ends(times)
    interval = (last - first) / (rows - 1)
    proved = interval > 0.0 and at_most_off(facts) <= _PROVED_WITHIN * EVEN_WITHIN * interval
    if not proved:
        _check_each(plan, times, interval)
    return check_rate(plan.path, "the times give: ", nice_rate(1.0 / interval, rows))


def check_against_rate(
    plan: CsvPlan, times: SampleSource, facts: Sequence[TimeFacts], rate_hz: float
) -> None:
    """With a stated rate the times may be rounded, but must not jump nor tell another rate.

    `facts` are those of the blocks of `times`.

    Raises:
        InputError: names the line where the times jump, or tells both rates.
    """
    rows = len(times)
    if rows < 2:
        _refuse_missing(plan, times)
        return
    due = 1.0 / rate_hz
    first, last = _ends(times)
    told = (last - first) / (rows - 1)
    # A fifth off an even spacing, at each end of a step, leaves a step that is no jump.
    if at_most_off(facts) <= 0.2 * due and abs(told - due) <= _PROVED_WITHIN * EVEN_WITHIN * due:
        return
    _refuse_missing(plan, times)
    shortest, longest = 0.5 * due, 1.5 * due
    resolution = _resolution(times)
    if resolution > 1.05 * due:
        # A coarse clock stands still for some rows and then steps by its resolution.
        shortest, longest = 0.0, due + 1.05 * resolution
    previous = float(times.read(0, 1)[0])
    for start in range(0, rows, _PIECE):
        values = np.asarray(times.read(start, start + _PIECE), dtype=np.float64)
        steps = np.diff(values, prepend=previous if start else values[0] - due)
        wrong = (steps > longest) | (steps < shortest)
        if wrong.any():
            at = int(np.argmax(wrong))
            raise _jump(plan, start + at, float(steps[at]), due)
        previous = float(values[-1])
    if abs(told - due) > EVEN_WITHIN * due + 2.0 * max(due, resolution) / (rows - 1):
        raise file_error(
            plan.path,
            f"the times tell {1.0 / told:g} samples a second, sample_rate_hz says {rate_hz:g}"
            if told > 0
            else "the times stand still",
            "correct one of the two",
        )


def _check_each(plan: CsvPlan, times: SampleSource, interval: float) -> None:
    """Every time against an even spacing."""
    _refuse_missing(plan, times)
    rows = len(times)
    first, last = _ends(times)
    if not interval > 0.0:
        raise _break(plan, times, _typical_step(times))
    worst, at = 0.0, 0
    rounding = 4.0 * float(np.spacing(max(abs(first), abs(last))))
    for start in range(0, rows, _PIECE):
        values = times.read(start, start + _PIECE)
        due = first + np.arange(start, start + len(values)) * interval
        off = np.abs(values - due)
        index = int(np.argmax(off))
        if off[index] > worst:
            worst, at = float(off[index]), start + index
    if worst > EVEN_WITHIN * interval + rounding:
        raise _break(plan, times, _typical_step(times), at)


def _refuse_missing(plan: CsvPlan, times: SampleSource) -> None:
    for start in range(0, len(times), _PIECE):
        missing = np.isnan(times.read(start, start + _PIECE))
        if missing.any():
            line = plan.data_line + start + int(np.argmax(missing))
            raise file_error(
                plan.path, f"line {line} has no time", "write its time, or take the row out"
            )


def _ends(times: SampleSource) -> tuple[float, float]:
    rows = len(times)
    return float(times.read(0, 1)[0]), float(times.read(rows - 1, rows)[0])


def _typical_step(times: SampleSource) -> float:
    return float(np.median(np.diff(times.read(0, min(len(times), _FIRST_ROWS)))))


def _resolution(times: SampleSource) -> float:
    """Smallest step forward in the first rows: the clock's resolution where that is coarse."""
    steps: Floats = np.diff(times.read(0, min(len(times), _FIRST_ROWS)))
    forward = steps[steps > 0]
    return float(forward.min()) if len(forward) else 0.0


def _break(plan: CsvPlan, times: SampleSource, due: float, worst: int = 1) -> InputError:
    """The first step that is not the usual one; else the time that lies furthest off."""
    previous = float(times.read(0, 1)[0])
    allowed = 2.0 * EVEN_WITHIN * abs(due)
    for start in range(0, len(times), _PIECE):
        values = np.asarray(times.read(start, start + _PIECE), dtype=np.float64)
        steps = np.diff(values, prepend=previous if start else values[0] - due)
        wrong = np.abs(steps - due) > allowed
        if due <= 0.0:
            wrong = steps <= 0.0
        if wrong.any():
            at = int(np.argmax(wrong))
            return _jump(plan, start + at, float(steps[at]), due)
        previous = float(values[-1])
    return file_error(
        plan.path,
        f"line {plan.data_line + worst}: the time lies more than 1 % of a sample interval off an "
        f"even spacing",
        _MEND,
    )


_MEND = (
    "if rows are missing add them with empty fields; if the times are only rounded, add a line "
    "# sample_rate_hz = … or " + SAY_THE_COLUMNS + "--sample-rate HZ)"
)


def _jump(plan: CsvPlan, row: int, step: float, due: float) -> InputError:
    line = f"line {plan.data_line + row}"
    if due <= 0.0:
        return file_error(plan.path, f"{line}: the time does not move forward", _MEND)
    words = f"{line}: the time steps by {step:.6g} s where {due:.6g} s is due"
    return file_error(plan.path, words, _MEND)

"""The check of a 4-20 mA loop at even shares of its span.

Source: 0, 25, 50, 75 and 100 % and 250 Ω are common practice; bands as NAMUR NE 43 (see
`analysis.protection.current_output`).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from analysis.model.calibration_results import LoopPoint, PassOrFail
from analysis.protection.current_output import HIGH_MA, LOW_MA, current_ma, voltage_across

LOOP_PERCENTS: Final = (0.0, 25.0, 50.0, 75.0, 100.0)
LOAD_OHM: Final = 250.0
_ROUNDING: Final = 1e-9


def loop_points(
    low_um: float,
    high_um: float,
    percents: Sequence[float] = LOOP_PERCENTS,
    *,
    load_ohm: float = LOAD_OHM,
) -> tuple[LoopPoint, ...]:
    """What each point of a loop check should read.

    Args:
        low_um: value at 4 mA; may be the larger one.
        high_um: value at 20 mA, another one.
        percents: shares of the span; beyond 0 to 100 the current is held as an output holds it.
        load_ohm: resistor that the voltage is read across, Ω, above 0.

    Raises:
        ValueError: an empty range or no load.
    """
    if low_um == high_um:
        raise ValueError("the values at 4 mA and at 20 mA must differ")
    if not load_ohm > 0.0:
        raise ValueError("the load must be above 0 Ω")
    out = []
    for percent in percents:
        value = low_um + (high_um - low_um) * percent / 100.0
        current = current_ma(value, low_um, high_um)
        out.append(LoopPoint(percent, value, current, voltage_across(current, load_ohm)))
    return tuple(out)


def current_from_voltage(volts: float, load_ohm: float = LOAD_OHM) -> float:
    """Current in mA that was read as a voltage across the load."""
    return volts / load_ohm * 1000.0


def span_error_percent(read_ma: float, expected_ma: float) -> float:
    """Read less expected current, in per cent of the span of 16 mA."""
    return 100.0 * (read_ma - expected_ma) / (HIGH_MA - LOW_MA)


def judged_loop(
    points: Sequence[LoopPoint], read_ma: Sequence[float | None], tolerance_percent: float
) -> tuple[LoopPoint, ...]:
    """The points with what was read at each, and its error in per cent of span.

    Args:
        points: as `loop_points` gives them.
        read_ma: one current a point; `None` where nothing was read yet.
        tolerance_percent: the error allowed either way, per cent of span.

    Raises:
        ValueError: not one reading a point.
    """
    if len(points) != len(read_ma):
        raise ValueError("one reading a point is needed, or None")
    out = []
    for point, read in zip(points, read_ma, strict=True):
        error: float | None = None
        result: PassOrFail | None = None
        if read is not None:
            error = span_error_percent(read, point.expected_ma)
            result = "pass" if abs(error) <= tolerance_percent + _ROUNDING else "fail"
        out.append(
            LoopPoint(
                point.percent,
                point.value_um,
                point.expected_ma,
                point.expected_v,
                read,
                error,
                result,
            )
        )
    return tuple(out)


def loop_verdict(points: Sequence[LoopPoint]) -> PassOrFail | None:
    """`fail` when a point fails, `pass` when every one was read and passes, else `None`."""
    results = [point.result for point in points]
    if "fail" in results:
        return "fail"
    return "pass" if results and None not in results else None

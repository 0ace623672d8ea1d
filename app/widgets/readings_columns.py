"""The columns of the readings table: what each says, its uncertainty, and how it is copied."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from app.plots.style import state_mark

from . import words

if TYPE_CHECKING:
    from analysis.model.results import ProbeReading, Reading, SpanReadings, VectorReading
    from analysis.model.setup import Probe
    from analysis.model.units import LengthUnit


@dataclass(frozen=True)
class Row:
    """One probe of the table, with what its tooltips need."""

    probe: Probe
    reading: ProbeReading
    readings: SpanReadings

    @property
    def tolerance(self) -> float:
        """Scale-factor tolerance as a share."""
        return self.probe.scale_factor_tolerance_percent / 100.0


CLOSE_SHARE = 0.05
"""A margin under this share of the linear range is marked; a mark of our own, no limit."""

Number = float | None
Export = tuple[str, str, Callable[[Row], Number | str]]
"""Heading, `"um"` (converted to the display unit) or another unit's name, and the value."""


@dataclass(frozen=True)
class Column:
    """A column: heading, cell text and the smaller text beside it, tooltip, and copied cells."""

    key: str
    heading: str
    in_length: bool
    cell: Callable[[Row, LengthUnit], str]
    beside: Callable[[Row, LengthUnit], str]
    tip: Callable[[Row, LengthUnit], str]
    exports: tuple[Export, ...]

    def title(self, unit: LengthUnit) -> str:
        """Heading with its unit."""
        return self.heading.replace("{unit}", unit.value)


def _nothing(_row: Row, _unit: LengthUnit) -> str:
    return ""


def _scatter_words(
    row: Row, reading: Reading | None, factor: float, decimals: int, name: str
) -> str:
    count = row.readings.speed.revolutions
    turns = "blocks of 0.1 s" if row.readings.speed.kind == "blocks" else "revolutions"
    if reading is None:
        return f"no value over {count} {turns}"
    if reading.scatter is None:
        return f"{count} {turns}: too few for a scatter"
    error = reading.scatter / math.sqrt(max(count, 1))
    return (
        f"mean over {count} {turns}; scatter (standard deviation) over them "
        f"±{reading.scatter * factor:.{decimals + 1}f} {name}; noise of the mean, scatter/√n: "
        f"±{error * factor:.{decimals + 2}f} {name}"
    )


def _length_tip(
    get: Callable[[Row], Reading | None], says: str, *, about_point: bool = False
) -> Callable[[Row, LengthUnit], str]:
    def tip(row: Row, unit: LengthUnit) -> str:
        reading = get(row)
        lines = [f"{row.probe.name}: {says}"]
        lines.append(_scatter_words(row, reading, unit.per_um, unit.decimals, unit.value))
        if reading is not None:
            part = reading.value - row.probe.point.gap_um if about_point else reading.value
            percent = row.probe.scale_factor_tolerance_percent
            effect = abs(part) * row.tolerance * unit.per_um
            lines.append(
                f"scale-factor tolerance ±{percent:g} %: ±{effect:.{unit.decimals}f} {unit.value}"
                + (" from the known point of the line" if about_point else "")
            )
        return "\n".join(lines)

    return tip


def _gap(row: Row) -> Reading | None:
    return row.reading.gap_um


def _gap_v(row: Row) -> Reading | None:
    return row.reading.gap_v


def _pp(row: Row) -> Reading | None:
    return row.reading.peak_to_peak_um


def _gap_v_tip(row: Row, _unit: LengthUnit) -> str:
    return (
        f"{row.probe.name}: mean gap voltage, V; more negative is a larger gap\n"
        + _scatter_words(row, _gap_v(row), 1.0, 3, "V")
    )


def _value(get: Callable[[Row], Reading | None]) -> Callable[[Row], Number]:
    return lambda row: words.mean_of(get(row))


def _scatter(get: Callable[[Row], Reading | None]) -> Callable[[Row], Number]:
    def scatter(row: Row) -> Number:
        reading = get(row)
        return None if reading is None else reading.scatter

    return scatter


def _pp_beside(row: Row, unit: LengthUnit) -> str:
    reading = _pp(row)
    if reading is None:
        return ""
    largest = row.reading.peak_to_peak_max_um
    scatter = words.plus_minus(reading.scatter, unit.decimals, unit.per_um)
    return f"{scatter} ({words.length(largest, unit)})" if largest is not None else scatter


def _vector_column(order: int) -> Column:
    def get(row: Row) -> VectorReading | None:
        return row.reading.vectors.get(order)

    def amplitude(row: Row) -> Reading | None:
        vector = get(row)
        return None if vector is None else vector.amplitude

    def lag(row: Row) -> Reading | None:
        vector = get(row)
        return None if vector is None else vector.phase_lag_deg

    def tip(row: Row, unit: LengthUnit) -> str:
        lines = length_tip(row, unit)
        degrees = lag(row)
        if degrees is None:
            return f"{lines}\nno phase lag without a phase reference"
        return f"{lines}\nphase lag: {_scatter_words(row, degrees, 1.0, 1, '°')}"

    length_tip = _length_tip(amplitude, f"{order}X amplitude p-p ∠ phase lag behind the reference")
    return Column(
        f"{order}x",
        f"{order}X, {{unit}} p-p ∠",
        True,
        lambda row, unit: words.vector(get(row), unit),
        lambda row, unit: words.vector_scatter(get(row), unit),
        tip,
        (
            (f"{order}X p-p", "um", _value(amplitude)),
            (f"{order}X p-p ±", "um", _scatter(amplitude)),
            (f"{order}X lag", "deg", _value(lag)),
            (f"{order}X lag ±", "deg", _scatter(lag)),
        ),
    )


def _margin(row: Row) -> Number:
    return row.reading.linear_range.margin_um if row.reading.linear_range else None


def _margin_beside(row: Row, _unit: LengthUnit) -> str:
    linear = row.reading.linear_range
    if linear is None or linear.margin_um is None or row.probe.linear_range_um is None:
        return ""
    if linear.outside_fraction:
        return f"▲ {max(linear.outside_fraction * 100.0, 1.0):.0f} % out"
    low, high = row.probe.linear_range_um
    return "▲ close" if linear.margin_um < CLOSE_SHARE * (high - low) else ""


def _margin_tip(row: Row, unit: LengthUnit) -> str:
    linear = row.reading.linear_range
    if linear is None or linear.margin_um is None or row.probe.linear_range_um is None:
        return f"{row.probe.name}: the setup gives no linear range, so nothing can be said"
    low, high = row.probe.linear_range_um
    effect = row.tolerance * max(
        abs(bound - row.probe.point.gap_um) for bound in (linear.min_um, linear.max_um)
    )
    return (
        f"{row.probe.name}: smallest distance of the gap to the nearer end of the linear range\n"
        f"gap {words.length(linear.min_um, unit)} to {words.length(linear.max_um, unit)} "
        f"{unit.value}; linear range {words.length(low, unit)} to {words.length(high, unit)}; "
        f"{(linear.outside_fraction or 0.0) * 100:.1f} % of the samples outside\n"
        f"scale-factor tolerance ±{row.probe.scale_factor_tolerance_percent:g} %: up to "
        f"±{words.length(effect, unit)} {unit.value}\n"
        f"close: less than {CLOSE_SHARE:.0%} of the linear range is left; a mark, no limit"
    )


def _state(row: Row, _unit: LengthUnit) -> str:
    return words.state(row.reading)


def _state_tip(row: Row, _unit: LengthUnit) -> str:
    text = (
        f"{row.probe.name}: the instant condition against the limits of the setup, "
        "without delay and latch"
    )
    if row.reading.circuit_fault:
        share = row.reading.fault_fraction * 100.0
        text += f"\ncircuit fault in {share:.1f} % of the samples: its measures are void there"
    return text


def _zone_tip(row: Row, _unit: LengthUnit) -> str:
    return (
        f"{row.probe.name}: evaluation zone of the p-p value by the setup's [severity_zones]; "
        "the machine owner's and maker's figures come first"
    )


COLUMNS: tuple[Column, ...] = (
    Column(
        "gap_v",
        "gap, V",
        False,
        lambda row, _unit: words.number(words.mean_of(_gap_v(row)), 2),
        lambda row, _unit: words.plus_minus(_scatter(_gap_v)(row), 3),
        _gap_v_tip,
        (("gap", "V", _value(_gap_v)), ("gap ±", "V", _scatter(_gap_v))),
    ),
    Column(
        "gap",
        "gap, {unit}",
        True,
        lambda row, unit: words.length(words.mean_of(_gap(row)), unit),
        lambda row, unit: words.plus_minus(_scatter(_gap)(row), unit.decimals, unit.per_um),
        _length_tip(_gap, "mean gap from probe tip to shaft", about_point=True),
        (("gap", "um", _value(_gap)), ("gap ±", "um", _scatter(_gap))),
    ),
    Column(
        "pp",
        "p-p, {unit}",
        True,
        lambda row, unit: words.length(words.mean_of(_pp(row)), unit),
        _pp_beside,
        _length_tip(_pp, "unfiltered p-p, mean over the turns (in brackets: of the largest turn)"),
        (
            ("p-p", "um", _value(_pp)),
            ("p-p ±", "um", _scatter(_pp)),
            ("p-p largest", "um", lambda row: row.reading.peak_to_peak_max_um),
        ),
    ),
    _vector_column(1),
    _vector_column(2),
    Column(
        "margin",
        "left, {unit}",
        True,
        lambda row, unit: words.length(_margin(row), unit),
        _margin_beside,
        _margin_tip,
        (
            ("linear range left", "um", _margin),
            (
                "samples outside range",
                "share",
                lambda row: row.reading.linear_range and row.reading.linear_range.outside_fraction,
            ),
        ),
    ),
    Column(
        "state",
        "state",
        False,
        _state,
        _nothing,
        _state_tip,
        (("state", "", lambda row: state_mark(row.reading.condition)[1]),),
    ),
    Column(
        "zone",
        "zone",
        False,
        lambda row, _unit: row.reading.zone or words.DASH,
        _nothing,
        _zone_tip,
        (("zone", "", lambda row: row.reading.zone or ""),),
    ),
)

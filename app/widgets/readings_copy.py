"""Readings as tab-separated text: one number a cell, units in the header."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from .readings_columns import COLUMNS, Column, Row

if TYPE_CHECKING:
    from analysis.model.results import PlaneReading, SpanReadings
    from analysis.model.setup import Setup
    from analysis.model.units import LengthUnit


def rows_of(readings: SpanReadings, setup: Setup) -> tuple[Row, ...]:
    """One row a probe, in the order of the setup."""
    return tuple(
        Row(probe, readings.probes[probe.name], readings)
        for probe in setup.probe
        if probe.name in readings.probes
    )


def columns_for(rows: Sequence[Row]) -> tuple[Column, ...]:
    """The columns to show: the zone only where the setup has zones."""
    has_zone = any(row.reading.zone is not None for row in rows)
    return tuple(column for column in COLUMNS if column.key != "zone" or has_zone)


def copied_text(
    rows: Sequence[Row],
    columns: Iterable[Column],
    unit: LengthUnit,
    *,
    decimal_mark: str = ".",
) -> str:
    """A header line with units, then one line a probe; an absent value is an empty cell.

    Six significant figures: more than any gap measurement carries.
    """
    exports = [export for column in columns for export in column.exports]
    lines = ["\t".join(["probe", *(_heading(name, kind, unit) for name, kind, _ in exports)])]
    for row in rows:
        cells = [row.probe.name]
        for _, kind, value in exports:
            cells.append(_cell(value(row), kind, unit, decimal_mark))
        lines.append("\t".join(cells))
    return "\n".join(lines) + "\n"


def copied_planes(
    planes: Iterable[PlaneReading], unit: LengthUnit, *, decimal_mark: str = "."
) -> str:
    """The plane readings as further lines under a header of their own."""
    headings = [
        ("S max", "um"),
        *((f"{order}X {axis}", "um") for order in (1, 2) for axis in ("major p-p", "minor p-p")),
        ("1X inclination", "deg"),
        ("1X precession", ""),
        ("centreline x", "um"),
        ("centreline y", "um"),
        ("eccentricity ratio", ""),
        ("attitude", "deg"),
    ]
    lines = ["\t".join(["plane", *(_heading(name, kind, unit) for name, kind in headings)])]
    for plane in planes:
        values = _plane_values(plane)
        cells = [
            _cell(value, kind, unit, decimal_mark)
            for value, (_, kind) in zip(values, headings, strict=True)
        ]
        lines.append("\t".join([plane.name, *cells]))
    return "\n".join(lines) + "\n"


def _plane_values(plane: PlaneReading) -> list[float | str | None]:
    first, centre = plane.orbits.get(1), plane.centreline
    values: list[float | str | None] = [plane.s_max_um]
    for order in (1, 2):
        orbit = plane.orbits.get(order)
        values += [orbit.major_um, orbit.minor_um] if orbit else [None, None]
    values += [first.inclination_deg, first.precession] if first else [None, None]
    values += (
        [centre.x_um, centre.y_um, centre.eccentricity_ratio, centre.attitude_deg]
        if centre
        else [None] * 4
    )
    return values


def _heading(name: str, kind: str, unit: LengthUnit) -> str:
    shown = unit.value if kind == "um" else kind
    return f"{name} ({shown})" if shown else name


def _cell(value: float | str | None, kind: str, unit: LengthUnit, decimal_mark: str) -> str:
    if value is None:
        return ""
    if isinstance(value, str):
        return value
    if not math.isfinite(value):
        return ""
    shown = value * unit.per_um if kind == "um" else value
    return f"{shown:.6g}".replace(".", decimal_mark)

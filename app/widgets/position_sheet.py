"""Every probe's place on its linear range in numbers, for the eye and for a spreadsheet."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from .sheet import Cell, SheetData
from .words import DASH, length, number

if TYPE_CHECKING:
    from analysis.model.position_results import ProbePosition, RangeUse
    from analysis.model.units import LengthUnit

STRETCHES = ("capture", "span", "moment")


def position_sheet(probes: Mapping[str, ProbePosition], unit: LengthUnit) -> SheetData:
    """A row a probe and stretch of time; the span has one where a span is chosen."""
    name = unit.value
    heads = (f"mean\n{name}", f"least\n{name}", f"largest\n{name}")
    heads += (f"to near\n{name}", f"to far\n{name}", "nearer\n%", "outside\ns", "turns\noutside")
    tips = (
        f"Mean gap, {name}",
        f"Least gap of any sample, {name}",
        f"Largest gap of any sample, {name}",
        f"From the least gap to the near end of the linear range, {name}; negative: beyond it",
        f"From the largest gap to the far end of the linear range, {name}; negative: beyond it",
        "The smaller of both margins, % of the length of the linear range",
        "How long the turns with a sample outside took together, s",
        "Turns with a sample outside",
    )
    shown = [
        (probe, which, use)
        for probe in probes.values()
        for which, use in zip(STRETCHES, (probe.capture, probe.chosen, probe.moment), strict=True)
        if use is not None or which == "moment"
    ]
    names = tuple(f"{probe.name} {which}" for probe, which, _ in shown)
    return SheetData(heads, tips, tuple(_row(use, unit) for _, _, use in shown), names)


def probe_of_row(sheet: SheetData, row: int) -> str:
    """The probe that a row is of."""
    return sheet.names[row].rpartition(" ")[0]


def _row(use: RangeUse | None, unit: LengthUnit) -> tuple[Cell, ...]:
    if use is None:
        return (Cell(DASH, "muted", tip="no reading"),) * 8
    margins = (use.near_margin_um, use.far_margin_um)
    shares = [share for share in (use.near_share, use.far_share) if share is not None]
    nearer = 100.0 * min(shares) if shares else None
    outside = "fail" if use.outside_turns else "muted"
    known = bool(shares)
    return (
        *(Cell(length(value, unit)) for value in (use.mean_um, use.min_um, use.max_um)),
        *(_margin(value, length(value, unit)) for value in margins),
        _margin(nearer, number(nearer, 1)),
        Cell(number(use.outside_s, 2) if known else DASH, outside),
        Cell(str(use.outside_turns) if known else DASH, outside),
    )


def _margin(value: float | None, text: str) -> Cell:
    return Cell(text, "fail" if value is not None and value < 0.0 else "ink")

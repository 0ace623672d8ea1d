"""A calibration table as the curve of a probe, and two tables held against each other."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from pydantic import ValidationError

from analysis.model.calibration_entries import Row
from analysis.model.calibration_results import CalibrationFigures, RowChange, TableComparison
from analysis.model.errors import InputError
from analysis.model.setup import Probe
from analysis.rotor.gap import gap_from_volts


def with_calibration(
    probe: Probe,
    rows: Sequence[Row],
    *,
    linear_range_um: tuple[float, float] | None = None,
) -> Probe:
    """The probe with these rows as its curve: straight between them, monotone throughout.

    The scale factor stays in the setup, but gaps are read from the curve from now on (contract,
    section 1). Gaps are rounded to 0.001 µm and volts to 0.01 mV, so that a table in mil leaves no
    tails of digits in the setup.

    Args:
        probe: the probe as the setup has it.
        rows: (gap_um, volts), any order, three at least.
        linear_range_um: put in place of the probe's own when given, such as the usable range.

    Raises:
        InputError: when the rows are no monotone curve.
    """
    table = sorted((round(float(gap), 3), round(float(volts), 5)) for gap, volts in rows)
    data = {key: getattr(probe, key) for key in probe.model_fields_set}
    data["calibration"] = tuple(table)
    if linear_range_um is not None:
        data["linear_range_um"] = tuple(round(end, 3) for end in linear_range_um)
    try:
        return Probe(**data)
    except ValidationError as error:
        first = error.errors()[0]
        cause = first.get("ctx", {}).get("error", first["msg"])
        words = "; ".join(str(cause).split("\n"))
        raise InputError(f"probe {probe.name}: {words}") from error


def compare_tables(found: CalibrationFigures, left: CalibrationFigures) -> TableComparison:
    """As found beside as left, at every gap of either table that both cover.

    The change as a length is how much larger the gap is read with the curve as left.

    Raises:
        InputError: when the tables have no two gaps in common ground.
    """
    one, two = (np.array(figures.table.rows) for figures in (found, left))
    low, high = max(one[0, 0], two[0, 0]), min(one[-1, 0], two[-1, 0])
    gaps = np.union1d(one[:, 0], two[:, 0])
    # Gaps that differ by less than a micrometer tells are one: 0.01 µm comes from mil alone.
    gaps = gaps[np.append(True, np.diff(gaps) > 0.01)]
    gaps = gaps[(gaps >= low - 0.01) & (gaps <= high + 0.01)]
    if len(gaps) < 2:
        raise InputError(
            f"{found.table.source} and {left.table.source} cover no gaps in common, so there is "
            "nothing to compare"
        )
    found_v = np.interp(gaps, one[:, 0], one[:, 1])
    left_v = np.interp(gaps, two[:, 0], two[:, 1])
    # The same voltage, read with one curve and with the other.
    left_curve = Probe(name="as left", calibration=tuple(left.table.rows))
    change_um = gap_from_volts(found_v, left_curve) - gaps
    rows = tuple(
        RowChange(float(gap), float(a), float(b), float(b - a), float(um))
        for gap, a, b, um in zip(gaps, found_v, left_v, change_um, strict=True)
    )
    average = None
    if found.average_mv_per_um is not None and left.average_mv_per_um is not None:
        average = 100.0 * (left.average_mv_per_um / found.average_mv_per_um - 1.0)
    return TableComparison(
        rows=rows,
        worst=max(rows, key=lambda row: abs(row.change_um)),
        average_change_percent=average,
        found_verdict=found.verdict,
        left_verdict=left.verdict,
    )

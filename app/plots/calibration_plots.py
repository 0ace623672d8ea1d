"""The pictures of a calibration table and of a loop check."""

from __future__ import annotations

from .gap_chart import GapChart

_EMPTY = (
    "No calibration table yet. Type or paste one at the left, or open a CSV. "
    "Open a capture, too, to see what a curve makes of its readings."
)


class CalibrationCurvePlot(GapChart):
    """Volts against gap."""

    NAME = "Calibration curve"
    DESCRIPTION = (
        "Gap voltage in V against gap in µm or mil; on hover the local slope. Shaded: the usable "
        "range. Between the dotted lines the table is judged. Press: go to that row. F: fit."
    )
    EMPTY = _EMPTY
    MEASURE = "volts"
    QUANTITY = "gap voltage"


class IncrementsPlot(GapChart):
    """The scale factor of every increment against its tolerance."""

    NAME = "Increments"
    DESCRIPTION = (
        "Scale factor from row to row, mV/µm or mV/mil, against gap; dashed: what is allowed. "
        "A diamond is beyond it. Press: go to that row. F: fit."
    )
    EMPTY = _EMPTY
    MEASURE = "factor"
    QUANTITY = "scale factor"


class DeviationPlot(GapChart):
    """Distance from the straight line, its slope held at nominal, and the best fit beside it."""

    NAME = "Deviation"
    DESCRIPTION = (
        "How far every row lies from the straight line, µm or mil: solid with the slope held at "
        "the nominal factor, dashed from the best fit of the table chosen at the left. A diamond "
        "is beyond what is allowed. F: fit."
    )
    EMPTY = _EMPTY
    MEASURE = "length"
    QUANTITY = "deviation"


class LoopErrorPlot(GapChart):
    """Error of the loop's current against the value that it carries."""

    NAME = "Error of the loop"
    DESCRIPTION = (
        "Error of the current read, per cent of the span of 16 mA, against the value in µm or mil "
        "that it carries; dashed: what is allowed. F: fit."
    )
    EMPTY = (
        "Nothing read yet. Type what the meter reads at each point; open a capture with current "
        "outputs to have their ranges filled in."
    )
    MEASURE = "percent"
    QUANTITY = "error"
    X_QUANTITY = "value"

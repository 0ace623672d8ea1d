"""The pictures of the Probe check page."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QPointF, Qt
from PySide6.QtWidgets import QApplication

from analysis.model.calibration_entries import AppliedStep
from analysis.model.calibration_results import CalibratorRun, RunTolerances, SteadyStretch
from analysis.model.span import TimeSpan
from analysis.model.units import LengthUnit
from analysis.views.probe_check import (
    CheckRequest,
    EntryRow,
    LoopEntry,
    RunEntry,
    answer_check,
)
from app.plots import style
from app.plots.calibration_plots import (
    CalibrationCurvePlot,
    DeviationPlot,
    IncrementsPlot,
    LoopErrorPlot,
)
from app.plots.calibration_views import (
    curve_view,
    deviation_view,
    increments_view,
    loop_view,
)
from app.plots.gap_views import ChartView
from app.plots.run_plot import RunPlot, RunView
from tests.analysis.test_probe_check_view import FOUND, LEFT, SETUP, rows_of

from .picture_checks import assert_words_have_room
from .plot_contract import PlotCase, PlotContract, settle, words_of


def bent(size: float) -> tuple[EntryRow, ...]:
    """A table that bends `size` times as much, over `size` times the gap."""
    gaps = [250.0 * step * max(size, 1.0) for step in range(1, 10)]
    volts = [-0.007874 * gap + size * 1e-7 * (gap - gaps[4]) ** 2 for gap in gaps]
    return rows_of(list(zip(gaps, volts, strict=True)))


def answer(size: float = 1.0):
    return answer_check(CheckRequest(rows=bent(size)))


def loop_answer(size: float = 1.0):
    reads = (4.0, 8.0 + 0.02 * size, 12.0 - 0.05 * size, 16.0, 20.0)
    span = 2000.0 * max(size, 1.0)
    return answer_check(CheckRequest(loop=LoopEntry(high_um=250.0 + span, found=reads)))


def run_view(size: float = 1.0) -> RunView:
    stretches = tuple(
        SteadyStretch(
            3.0 * place, 3.0 * place + 2.0, gap * size, -1.0, 0.1, 1.0, 1.0, 20.0 * size, 80.0
        )
        for place, gap in enumerate((250.0, 750.0, 1250.0))
    )
    request = CheckRequest(
        run=RunEntry({0: AppliedStep(250.0), 1: AppliedStep(900.0)}),
        stretches=stretches,
        setup=SETUP,
        probe="DE-X",
    )
    return RunView(answer_check(request).run, TimeSpan(0.0, 10.0))


VOID = ChartView(note="nothing here")
EMPTY_RUN = CalibratorRun("DE-X", (), RunTolerances(), None, ())
CASES = {
    "curve": PlotCase(
        CalibrationCurvePlot,
        lambda size: curve_view(answer(size), 0),
        lambda: VOID,
        ("gap voltage, V", "gap, µm", "judged 254 to 2286 µm"),
    ),
    "increments": PlotCase(
        IncrementsPlot,
        lambda size: increments_view(answer(size), 0),
        lambda: VOID,
        ("scale factor, mV/µm", "+5 % 8.268 mV/µm"),
    ),
    "deviation": PlotCase(
        DeviationPlot,
        lambda size: deviation_view(answer(size), 0),
        lambda: VOID,
        ("deviation, µm", "allowed +25.4 µm"),
    ),
    "loop": PlotCase(
        LoopErrorPlot,
        lambda size: loop_view(loop_answer(size), 0),
        lambda: VOID,
        ("error, % of span", "value, µm"),
    ),
    "run": PlotCase(
        RunPlot,
        run_view,
        lambda: RunView(EMPTY_RUN, TimeSpan(0.0, 10.0)),
        ("time, s", "gap, µm"),
    ),
}


@pytest.fixture(params=list(CASES))
def case(request) -> PlotCase:
    return CASES[request.param]


class TestEveryPlot(PlotContract):
    pass


@pytest.fixture
def both():
    return answer_check(CheckRequest(rows=rows_of(FOUND.rows, LEFT.rows)))


def shown(qtbot, plot, view, size=(430, 300)):
    qtbot.addWidget(plot)
    plot.resize(*size)
    plot.show()
    plot.show_result(view)
    settle()
    return plot


@pytest.mark.parametrize("size", [(300, 190), (430, 300), (700, 420)])
@pytest.mark.parametrize("unit", list(LengthUnit))
@pytest.mark.parametrize(
    ("kind", "make"),
    [
        (CalibrationCurvePlot, curve_view),
        (IncrementsPlot, increments_view),
        (DeviationPlot, deviation_view),
    ],
)
def test_words_keep_apart(qtbot, both, kind, make, unit, size):
    plot = kind()
    plot.set_unit(unit)
    assert_words_have_room(shown(qtbot, plot, make(both, 0), size))


def test_both_stages_are_named_and_the_one_that_counts_has_the_colour(qtbot, both):
    view = curve_view(both, 2)
    plot = shown(qtbot, CalibrationCurvePlot(), view)
    assert {"as found", "as left"} <= set(words_of(plot))
    assert [one.ink for one in view.series] == [None, 2]


def test_increments_beyond_tolerance_are_diamonds(qtbot, both):
    view = increments_view(both, 0)
    beyond = sum(sum(one.beyond) for one in view.series)
    assert beyond == 7  # of the sample as found; none as left
    assert not any(view.series[1].beyond)
    plot = shown(qtbot, IncrementsPlot(), view)
    trip = style.palette(style.Theme.LIGHT).trip.lower()
    marks = [s for s in plot.canvas.over.shapes if s.brush.color().name() == trip]
    assert len(marks) == beyond


def test_an_increment_outside_the_testing_range_is_never_marked(both):
    found = both.found.figures
    outside = [i for i in found.increments if not i.judged]
    assert outside
    assert not all(i.within for i in outside)
    view = increments_view(both, 0)
    for one, stage in zip(view.series, (both.found, both.left), strict=True):
        for flag, increment in zip(one.beyond, stage.figures.increments, strict=True):
            assert flag == (increment.judged and not increment.within)


def test_the_deviation_is_that_of_the_figures(both):
    view = deviation_view(both, 0)
    held = next(one for one in view.series if one.name == "as left, slope held")
    largest = max(abs(value) for value in held.y)
    assert largest == pytest.approx(both.left.figures.held.deviation_um)
    fit = next(one for one in view.series if one.name == "as left, best fit")
    largest = max(abs(value) for value in fit.y)
    assert largest == pytest.approx(both.left.figures.best_fit.deviation_um)
    assert fit.dashed


def test_the_best_fit_is_that_of_the_table_looked_at(both):
    names = {
        stage: [one.name for one in deviation_view(both, 0, stage).series]
        for stage in ("as found", "as left")
    }
    assert names["as found"] == ["as found, slope held", "as found, best fit", "as left"]
    assert names["as left"] == ["as found", "as left, slope held", "as left, best fit"]


def test_hovering_tells_the_local_slope(qtbot, both):
    plot = shown(qtbot, CalibrationCurvePlot(), curve_view(both, 0), (700, 420))
    at = plot.canvas.to_pixels(1250.0, -10.0)
    plot.canvas.moved.emit(QPointF(at), Qt.MouseButton.NoButton)
    [label] = plot.canvas.hover.labels
    rows = dict(LEFT.rows)
    slope = (rows[1000.0] - rows[1500.0]) / 500.0 * 1000.0
    assert "1250 µm" in label.text
    assert f"{slope:.3f} mV/µm" in label.text


def test_a_press_points_at_the_nearest_row(qtbot, both):
    plot = shown(qtbot, CalibrationCurvePlot(), curve_view(both, 0), (700, 420))
    asked = []
    plot.point_requested.connect(asked.append)
    plot.canvas.pressed.emit(plot.canvas.to_pixels(1290.0, -5.0), Qt.KeyboardModifier.NoModifier)
    assert asked == [1250.0]


def test_a_press_on_a_step_goes_to_its_middle(qtbot):
    plot = shown(qtbot, RunPlot(), run_view(), (700, 300))
    asked = []
    plot.moment_requested.connect(asked.append)
    plot.canvas.pressed.emit(plot.canvas.to_pixels(3.4, 500.0), Qt.KeyboardModifier.NoModifier)
    assert asked == [4.0]
    assert {"1✓", "2✗", "3"} <= set(words_of(plot))
    QApplication.processEvents()

"""The level picture: settings that ask, words that find room, and no point too many."""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QPointF, Qt
from PySide6.QtTest import QTest

from analysis.model.replay_results import MonitorSeries
from analysis.model.setup import Limit
from analysis.model.span import TimeSpan
from analysis.model.units import LengthUnit
from app.plots import style
from app.plots.level_lines import level_lines, raised_runs
from app.plots.level_plot import LevelPlot, LevelView

from . import fake_alarms as fake
from .picture_checks import (
    assert_words_have_room,
    curve_points,
    inked,
    labels_of,
    points_under,
)
from .plot_contract import PlotCase, PlotContract, settle, words_of

SETUP = fake.alarm_setup()
SERIES = fake.alarm_series()
TRIAL = fake.alarm_setup(135.0, 2.0)
NONE = Qt.KeyboardModifier.NoModifier
LEFT = Qt.MouseButton.LeftButton

CASE = PlotCase(
    LevelPlot,
    lambda size: LevelView(fake.alarm_series(size), SETUP, fake.TRIP),
    lambda: LevelView(fake.void_series(), SETUP, fake.TRIP),
    ("p-p, µm", "time, s", "trip 125 µm"),
)


class TestLevelContract(PlotContract):
    @pytest.fixture
    def case(self) -> PlotCase:
        return CASE


@pytest.fixture
def plot(qtbot) -> LevelPlot:
    style.load_fonts()
    style.configure_pyqtgraph()
    made = LevelPlot()
    qtbot.addWidget(made)
    made.resize(760, 420)
    made.show()
    settle()
    made.show_result(LevelView(SERIES, SETUP, fake.TRIP))
    settle()
    return made


@pytest.fixture
def asked(plot) -> list[tuple]:
    """What the picture asks for, in order."""
    made: list[tuple] = []
    plot.setting_requested.connect(lambda *what: made.append(("setting", *what)))
    plot.drag_finished.connect(lambda: made.append(("finished",)))
    plot.limit_requested.connect(lambda index: made.append(("limit", index)))
    plot.moment_requested.connect(lambda at: made.append(("moment", at)))
    plot.span_requested.connect(lambda *ends: made.append(("span", *ends)))
    return made


def place(plot: LevelPlot, time_s: float, value_um: float) -> QPointF:
    return plot.canvas.to_pixels(time_s, value_um)


def line_heights(plot: LevelPlot) -> list[float]:
    """Where the level lines over the curves are, pixels."""
    wide = plot.canvas.data_rect().width() - 1
    return [r.line.y1() for r in plot.canvas.over.rules if abs(r.line.dx()) >= wide]


def test_a_drag_asks_and_moves_nothing_itself(plot, asked):
    before = line_heights(plot)
    plot.canvas.pressed.emit(place(plot, 20.0, 125.0), NONE)
    plot.canvas.moved.emit(place(plot, 20.0, 110.0), LEFT)
    plot.canvas.moved.emit(place(plot, 20.0, 100.0), LEFT)
    assert [what[0] for what in asked] == ["setting", "setting"]
    assert asked[-1][1:3] == (fake.TRIP, "above")
    assert asked[-1][3] == pytest.approx(100.0, abs=1.0)
    assert line_heights(plot) == before
    plot.canvas.released.emit(place(plot, 20.0, 100.0), NONE)
    assert asked[-1] == ("finished",)
    assert line_heights(plot) == before


def test_a_press_that_does_not_move_asks_for_no_setting(plot, asked):
    at = place(plot, 20.0, 125.0) + QPointF(0.0, 3.0)
    plot.canvas.pressed.emit(at, NONE)
    plot.canvas.moved.emit(at, LEFT)
    plot.canvas.released.emit(at, NONE)
    assert asked == [("finished",)]


def test_a_line_moves_when_it_is_told_and_the_one_in_force_stays(plot):
    plot.show_result(LevelView(SERIES, SETUP, fake.TRIP, TRIAL))
    heights = line_heights(plot)
    for value in (135.0, 125.0, 95.0):
        y = place(plot, 0.0, value).y()
        assert any(abs(height - y) <= 1.0 for height in heights), value
    told = " | ".join(words_of(plot))
    assert "trip on trial 135 µm · 2 s · latching" in told
    assert "in force 125 µm · 1 s" in told


def test_a_trial_of_the_delay_alone_has_one_line_that_names_both(plot):
    plot.show_result(LevelView(SERIES, SETUP, fake.TRIP, fake.alarm_setup(125.0, 2.0)))
    assert len(line_heights(plot)) == 2
    assert any("2 s · latching · in force: 1 s" in text for text in words_of(plot))


def test_the_line_of_another_limit_can_be_taken_in_hand(plot, asked):
    plot.canvas.pressed.emit(place(plot, 100.0, 95.0), NONE)
    plot.canvas.moved.emit(place(plot, 100.0, 90.0), LEFT)
    assert asked[0] == ("limit", 0)
    assert asked[1][:3] == ("setting", 0, "above")


def test_the_scale_stays_while_a_line_is_held(plot):
    plot.canvas.pressed.emit(place(plot, 20.0, 125.0), NONE)
    before = plot.canvas.box.viewRange()
    plot.show_result(LevelView(SERIES, SETUP, fake.TRIP, fake.alarm_setup(400.0)))
    assert plot.canvas.box.viewRange() == before
    assert any(text.startswith("↑") and "400 µm" in text for text in words_of(plot))
    plot.canvas.released.emit(place(plot, 20.0, 150.0), NONE)
    assert plot.canvas.box.viewRange()[1][1] > 400.0


def test_above_and_below_keep_their_sides(plot, asked):
    plot.show_result(LevelView(SERIES, SETUP, 5))
    plot.canvas.pressed.emit(place(plot, 100.0, 1660.0), NONE)
    plot.canvas.moved.emit(place(plot, 100.0, 500.0), LEFT)
    settings = [what for what in asked if what[0] == "setting"]
    assert settings[-1][1:3] == (5, "above")
    assert settings[-1][3] > 860.0
    Limit.model_validate({**SETUP.limit[5].model_dump(), "above": settings[-1][3]})


def test_a_vibration_limit_is_never_dragged_to_nothing(plot, asked):
    plot.canvas.pressed.emit(place(plot, 20.0, 125.0), NONE)
    plot.canvas.moved.emit(place(plot, 20.0, -40.0), LEFT)
    assert asked[-1][3] > 0.0


@pytest.mark.parametrize("unit", list(LengthUnit))
def test_what_is_asked_for_is_round_in_the_unit_shown(plot, asked, unit):
    plot.set_unit(unit)
    plot.canvas.pressed.emit(place(plot, 20.0, 125.0), NONE)
    plot.canvas.moved.emit(place(plot, 20.0, 107.3), LEFT)
    shown = asked[-1][3] * unit.per_um
    step = plot._step() * unit.per_um
    assert shown / step == pytest.approx(round(shown / step), abs=1e-6)
    assert abs(asked[-1][3] - 107.3) <= plot._step()


def test_within_the_window_of_the_multiplier_the_raised_line_is_held(plot, asked):
    raised = fake.alarm_setup(100.0, multiplier={"factor": 1.5, "rpm": [2600.0, 3600.0]})
    plot.show_result(LevelView(SERIES, raised, fake.TRIP))
    inside = float(SERIES.time_s[np.argmin(np.abs(SERIES.speed_rpm[:900] - 3100.0))])
    plot.canvas.pressed.emit(place(plot, inside, 150.0), NONE)
    plot.canvas.moved.emit(place(plot, inside, 180.0), LEFT)
    assert asked[-1][:3] == ("setting", fake.TRIP, "above")
    assert asked[-1][3] == pytest.approx(120.0, abs=1.0)


def test_raised_runs_are_those_of_the_speed():
    limit = fake.alarm_setup(multiplier={"factor": 2.0, "rpm": [2000.0, 3000.0]}).limit[fake.TRIP]
    time_s = np.arange(6.0)
    speed = np.array([1000.0, 2500.0, 2900.0, 4000.0, 2200.0, np.nan])
    assert raised_runs(limit, time_s, speed) == [(1.0, 3.0), (4.0, 5.0)]
    assert raised_runs(SETUP.limit[fake.TRIP], time_s, speed) == []


def test_a_press_elsewhere_asks_for_the_moment_and_shift_for_a_span(plot, asked):
    plot.canvas.pressed.emit(place(plot, 80.0, 10.0), NONE)
    plot.canvas.moved.emit(place(plot, 90.0, 10.0), LEFT)
    plot.canvas.released.emit(place(plot, 90.0, 10.0), NONE)
    plot.canvas.pressed.emit(place(plot, 60.0, 10.0), Qt.KeyboardModifier.ShiftModifier)
    plot.canvas.moved.emit(place(plot, 50.0, 10.0), LEFT)
    assert [what[0] for what in asked] == ["moment", "moment", "span"]
    assert asked[1][1] == pytest.approx(90.0, abs=0.3)
    assert asked[2][1:] == pytest.approx((50.0, 60.0), abs=0.3)


def test_keys_ask_a_step_at_a_time(plot, asked):
    step = plot._step()
    QTest.keyClick(plot, Qt.Key.Key_Up)
    assert asked[0][:3] == ("setting", fake.TRIP, "above")
    assert asked[0][3] == pytest.approx(125.0 + step)
    assert asked[1] == ("finished",)
    QTest.keyClick(plot, Qt.Key.Key_Down, Qt.KeyboardModifier.ShiftModifier)
    assert asked[2][3] == pytest.approx(125.0 - 10 * step)
    QTest.keyClick(plot, Qt.Key.Key_L)
    assert asked[4] == ("limit", 0)


def test_escape_gives_the_old_setting_back(plot, asked):
    plot.canvas.pressed.emit(place(plot, 20.0, 125.0), NONE)
    plot.canvas.moved.emit(place(plot, 20.0, 100.0), LEFT)
    QTest.keyClick(plot, Qt.Key.Key_Escape)
    assert asked[-2] == ("setting", fake.TRIP, "above", 125.0)
    assert asked[-1] == ("finished",)
    plot.canvas.moved.emit(place(plot, 20.0, 90.0), LEFT)
    assert asked[-1] == ("finished",)


@pytest.mark.parametrize("size", [(320, 130), (420, 200), (760, 420), (1500, 700)])
@pytest.mark.parametrize("trip_um", [60.0, 97.0, 125.0, 300.0])
@pytest.mark.parametrize("index", [1, 5])
def test_words_neither_leave_the_picture_nor_cover_each_other(plot, size, trip_um, index):
    plot.resize(*size)
    settle()
    trial = fake.alarm_setup(trip_um, 2.0, latching=False)
    plot.set_moment(48.3, "48.30 s · 3180 r/min")
    plot.show_result(LevelView(SERIES, SETUP, index, trial))
    settle()
    assert_words_have_room(plot)


@pytest.mark.parametrize("trip_um", [100.0, 110.0, 125.0, 135.0])
def test_words_keep_off_the_curve_where_there_is_room(plot, trip_um):
    plot.show_result(LevelView(SERIES, SETUP, fake.TRIP, fake.alarm_setup(trip_um)))
    x, y = curve_points(plot, plot._pool)
    labels = [label for label in labels_of(plot) if "µm · " in label.text]
    assert labels
    for label in labels:
        assert points_under(inked(label), x, y) == 0, label.text


def test_several_probes_are_named_beside_their_curves(plot):
    plot.show_result(LevelView(SERIES, SETUP, 5))
    assert {"THR-A", "THR-B"} <= set(words_of(plot))
    plot.show_result(LevelView(SERIES, SETUP, fake.TRIP))
    assert "THR-A" not in words_of(plot)


def test_the_part_shown_follows_and_keeps_the_levels(plot):
    levels = plot.canvas.box.viewRange()[1]
    plot.set_time_range(TimeSpan(40.0, 60.0))
    assert plot.canvas.box.viewRange() == [[40.0, 60.0], levels]
    x, _ = plot._pool[0].getData()
    assert 39.8 <= x[0] <= 40.0
    assert 60.0 <= x[-1] <= 60.2
    plot.set_time_range(None)
    assert plot.canvas.box.viewRange()[0] == pytest.approx([0.1, 214.6])


def test_the_moment_is_told_with_its_reading(plot):
    place_s = 48.3
    value = SERIES.probes["DE-X"].peak_to_peak_um[round(place_s / 0.1) - 1]
    plot.set_moment(place_s, "48.30 s")
    assert f"48.30 s · {value:.1f} µm" in words_of(plot)
    plot.set_unit(LengthUnit.MIL)
    plot.set_moment(48.31, "48.31 s")
    assert f"48.31 s · {value / 25.4:.2f} mil" in words_of(plot)


def test_a_curve_has_at_most_two_points_a_column(plot):
    long = fake.alarm_series(length_s=1200.0)
    plot.show_result(LevelView(long, SETUP, fake.TRIP))
    x, y = plot._pool[0].getData()
    assert len(x) <= 2 * plot.canvas.data_rect().width()
    # The envelope keeps the extremes.
    values = long.probes["DE-X"].peak_to_peak_um
    assert float(y.max()) == values.max()


def test_dragging_draws_no_curve_anew(plot):
    x, _ = plot._pool[0].getData()
    plot.show_result(LevelView(SERIES, SETUP, fake.TRIP, TRIAL))
    assert plot._pool[0].getData()[0] is x


def test_twenty_minutes_are_painted_within_a_frame(plot):
    """16 ms is a frame of 60 Hz; the median of many, since other work shares the processor."""
    plot.resize(1500, 700)
    settle()
    long = fake.alarm_series(length_s=1200.0)
    trials = [fake.alarm_setup(100.0 + number, 2.0) for number in range(40)]
    spent = []
    for trial in trials:
        start = time.process_time()
        plot.show_result(LevelView(long, SETUP, fake.TRIP, trial))
        plot.canvas.viewport().repaint()
        spent.append(time.process_time() - start)
    assert np.median(spent) < 0.016


def test_a_region_of_1x_is_shown_and_not_dragged(plot, asked):
    region = {"amplitude_um": [10.0, 60.0], "lag_deg": [30.0, 90.0]}
    limit = Limit.model_validate(
        {"probes": ["DE-X"], "measure": "1x_vector", "level": "trip", "region": region}
    )
    setup = SETUP.model_copy(update={"limit": (limit,)})
    plot.show_result(LevelView(SERIES, setup, 0))
    told = " | ".join(words_of(plot))
    assert "1X outside 10 to 60 µm, 30° to 90°" in told
    assert plot.canvas.left_axis.text() == "1X, µm p-p"
    plot.canvas.pressed.emit(place(plot, 100.0, 60.0), NONE)
    assert [what[0] for what in asked] == ["moment"]


def test_lines_of_a_trial_with_other_limits_are_those_in_force():
    fewer = SETUP.model_copy(update={"limit": SETUP.limit[:2]})
    assert level_lines(SETUP, fewer, fake.TRIP) == level_lines(SETUP, None, fake.TRIP)


def test_no_reading_is_said(plot):
    plot.show_result(LevelView(fake.void_series(), SETUP, fake.TRIP))
    assert "no reading of DE-X" in words_of(plot)
    empty = MonitorSeries(np.empty(0), np.empty(0), {}, phase_known=False)
    plot.show_result(LevelView(empty, SETUP, fake.TRIP))
    plot.grab()


def test_a_gap_in_the_readings_stays_a_gap(plot):
    probe = SERIES.probes["DE-X"]
    values = probe.peak_to_peak_um.copy()
    values[1000:1200] = np.nan
    probes = {**SERIES.probes, "DE-X": replace(probe, peak_to_peak_um=values)}
    plot.show_result(LevelView(replace(SERIES, probes=probes), SETUP, fake.TRIP))
    x, y = plot._pool[0].getData()
    inside = (x > 101.0) & (x < 119.0)
    assert np.isnan(y[inside]).all()

"""The states: ribbons that differ in grey, resets that are asked for, moments at events."""

from __future__ import annotations

import time
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtTest import QTest

from analysis.model.replay_results import StateRun
from analysis.model.span import TimeSpan
from analysis.protection.replay import replay
from app.plots import style
from app.plots.layers import Shape
from app.plots.state_rows import LANE, placed_rows, state_rows
from app.plots.states_plot import StatesPlot, StatesView

from . import fake_alarms as fake
from .picture_checks import assert_words_have_room
from .plot_contract import PlotCase, PlotContract, settle, words_of

REPLAY = fake.fake_replay()
TRIAL = fake.fake_replay(fake.alarm_setup(135.0, 2.0), trips=False)
VIEW = StatesView(REPLAY, None, fake.TRIP)
BOTH = StatesView(REPLAY, TRIAL, fake.TRIP)
NONE = Qt.KeyboardModifier.NoModifier


def void_view() -> StatesView:
    runs = tuple((StateRun(0.1, fake.LENGTH_S, "void"),) for _ in REPLAY.states)
    return StatesView(replace(REPLAY, series=fake.void_series(), states=runs, events=()))


CASE = PlotCase(StatesPlot, lambda _size: VIEW, void_view, ("125 µm", "time, s", "resets"))


class TestStatesContract(PlotContract):
    @pytest.fixture
    def case(self) -> PlotCase:
        return CASE


@pytest.fixture
def plot(qtbot) -> StatesPlot:
    style.load_fonts()
    style.configure_pyqtgraph()
    made = StatesPlot()
    qtbot.addWidget(made)
    made.resize(900, 330)
    made.show()
    settle()
    made.show_result(VIEW)
    settle()
    return made


@pytest.fixture
def asked(plot) -> list[tuple]:
    made: list[tuple] = []
    plot.reset_requested.connect(lambda at: made.append(("place", at)))
    plot.reset_removed.connect(lambda at: made.append(("take off", at)))
    plot.limit_requested.connect(lambda index: made.append(("limit", index)))
    plot.moment_requested.connect(lambda at: made.append(("moment", at)))
    return made


def row_of(plot: StatesPlot, index: int):
    return next(each for each in plot._rows if each.row.index == index)


def at(plot: StatesPlot, time_s: float, index: int | None = None) -> QPointF:
    """A place in a row, or in the strip of resets."""
    rect = plot.canvas.data_rect()
    y = rect.top() + LANE / 2 if index is None else row_of(plot, index).ribbon.center().y()
    return QPointF(plot.canvas.to_pixels(time_s, 0.0).x(), y)


def shapes_at(plot: StatesPlot, time_s: float, index: int) -> list[Shape]:
    """The shapes of a row that are there at a time, grounds of words left out."""
    place, ribbon = at(plot, time_s, index), row_of(plot, index).ribbon
    found = []
    for shape in plot.canvas.over.shapes:
        box = shape.polygon.boundingRect()
        across = box.left() - 0.5 <= place.x() <= box.right() + 0.5
        inside = ribbon.top() - 2 <= box.top() and box.bottom() <= ribbon.bottom() + 2
        if across and inside and shape.pen.color().alpha():
            found.append(shape)
    return found


def test_each_state_has_a_shape_of_its_own(plot):
    plot.set_time_range(TimeSpan(40.0, 120.0))
    [waiting_ground] = [
        s for s in shapes_at(plot, 46.9, 1) if s.brush.style() == Qt.BrushStyle.BDiagPattern
    ]
    ribbon = row_of(plot, 1).ribbon
    waiting = waiting_ground.polygon.boundingRect()
    assert waiting.height() < 0.65 * ribbon.height()
    held = shapes_at(plot, 100.0, 1)
    assert max(s.polygon.boundingRect().height() for s in held) > 0.85 * ribbon.height()
    stripes = [s for s in held if s.polygon.boundingRect().height() == 0.0]
    assert len(stripes) >= 2
    void = shapes_at(plot, 110.0, 4)
    assert [s.brush.style() for s in void] == [Qt.BrushStyle.DiagCrossPattern]
    assert not shapes_at(plot, 110.0, 2)


def test_a_set_state_is_solid_and_full(plot):
    plot.set_time_range(TimeSpan(40.0, 60.0))
    ribbon = row_of(plot, 1).ribbon
    solid = [
        shape
        for shape in plot.canvas.over.shapes
        if shape.brush.style() == Qt.BrushStyle.SolidPattern
        and ribbon.adjusted(-9, -2, 9, 2).contains(shape.polygon.boundingRect())
        and shape.brush.color() == style.condition_colour("trip", style.Theme.LIGHT)
    ]
    [box] = [shape.polygon.boundingRect() for shape in solid if not shape.ellipse]
    assert box.height() > 0.85 * ribbon.height()
    assert box.left() == pytest.approx(at(plot, 47.4, 1).x(), abs=1.0)
    assert box.right() == pytest.approx(at(plot, 52.9, 1).x(), abs=1.0)


def test_states_are_told_in_words(plot):
    told = words_of(plot)
    assert "held 87.1 s" in told
    assert "no reading 18.0 s" in told
    plot.set_time_range(TimeSpan(40.0, 60.0))
    told = words_of(plot)
    assert "set 5.5 s" in told
    assert "held 87.1 s" in told


def test_a_state_however_short_is_seen(plot):
    brief = (
        StateRun(0.1, 30.0, "normal"),
        StateRun(30.0, 30.05, "set"),
        StateRun(30.05, fake.LENGTH_S, "normal"),
    )
    plot.show_result(StatesView(replace(REPLAY, states=(brief, *REPLAY.states[1:]))))
    boxes = [s.polygon.boundingRect() for s in plot.canvas.over.shapes]
    x = at(plot, 30.0, 0).x()
    mine = [b for b in boxes if abs(b.center().x() - x) < 3 and b.height() > 10]
    assert mine
    assert max(b.width() for b in mine) >= 1.0


def test_a_chattering_limit_keeps_its_worst_columns_within_a_frame(plot):
    edges = np.linspace(0.1, fake.LENGTH_S, 4001)
    states = ("normal", "waiting", "normal", "waiting", "set")
    runs = tuple(
        StateRun(float(a), float(b), states[place % 5])
        for place, (a, b) in enumerate(pairwise(edges))
    )
    view = StatesView(replace(REPLAY, states=(runs,) * len(REPLAY.states)))
    plot.show_result(view)
    spent = []
    for _ in range(15):
        start = time.process_time()
        plot.show_result(view)
        plot.canvas.viewport().repaint()
        spent.append(time.process_time() - start)
    assert np.median(spent) < 0.05
    full = [s for s in plot.canvas.over.shapes if s.brush.style() == Qt.BrushStyle.SolidPattern]
    assert full


def test_twenty_minutes_are_painted_within_a_frame(plot):
    series = fake.alarm_series(length_s=1200.0)
    plot.resize(1500, 500)
    settle()
    views = [
        StatesView(replace(REPLAY, series=series), replace(TRIAL, series=series), index)
        for index in (0, 1)
    ]
    spent = []
    for turn in range(30):
        start = time.process_time()
        plot.show_result(views[turn % 2])
        plot.canvas.viewport().repaint()
        spent.append(time.process_time() - start)
    assert np.median(spent) < 0.016


def test_resets_are_asked_for_and_taken_off_in_the_strip(plot, asked):
    plot.canvas.pressed.emit(at(plot, 100.04), NONE)
    assert asked == [("place", pytest.approx(100.0, abs=0.31))]
    assert round(asked[0][1] * 10) / 10 == asked[0][1]
    marks = len([s for s in plot.canvas.over.shapes if s.ellipse])
    assert marks == 2  # nothing has changed until it is told to
    asked.clear()
    plot.canvas.pressed.emit(at(plot, 140.0) + QPointF(3.0, 0.0), NONE)
    assert asked == [("take off", 140.0)]


def test_a_reset_that_lets_go_of_nothing_is_hollow(plot):
    circles = [s for s in plot.canvas.over.shapes if s.ellipse]
    card = style.palette(style.Theme.LIGHT).card
    fills = [s.brush.color().name().upper() for s in circles]
    assert fills[0] != card
    assert fills[1] == card
    plot.canvas.moved.emit(at(plot, 140.0), Qt.MouseButton.NoButton)
    assert any("lets go of ◆ trip DE-X" in text for text in words_of(plot))
    plot.canvas.moved.emit(at(plot, 180.0), Qt.MouseButton.NoButton)
    assert any("lets go of nothing" in text for text in words_of(plot))


def test_a_reset_that_lets_go_of_a_latch_in_force_is_filled_while_another_is_tried(plot):
    plot.show_result(BOTH)
    first, second = [s for s in plot.canvas.over.shapes if s.ellipse]
    card = style.palette(style.Theme.LIGHT).card
    assert first.brush.color().name().upper() != card
    assert second.brush.color().name().upper() == card
    plot.canvas.moved.emit(at(plot, 140.0), Qt.MouseButton.NoButton)
    assert any("lets go of ◆ trip DE-X (in force)" in text for text in words_of(plot))


def test_a_press_on_an_event_asks_for_its_very_moment(plot, asked):
    plot.canvas.pressed.emit(at(plot, 47.4, 1) + QPointF(2.0, 0.0), NONE)
    assert asked == [("moment", 47.4)]
    asked.clear()
    plot.canvas.pressed.emit(at(plot, 100.0, 2), NONE)
    assert asked[0] == ("limit", 2)
    assert asked[1][1] == pytest.approx(100.0, abs=0.3)


def test_names_left_of_the_ribbons_choose_a_limit_and_no_moment(plot, asked):
    place = at(plot, 50.0, 3)
    plot.canvas.pressed.emit(QPointF(20.0, place.y()), NONE)
    assert asked == [("limit", 3)]


def test_the_hand_is_told_what_happened(plot):
    plot.canvas.moved.emit(at(plot, 52.9, 1), Qt.MouseButton.NoButton)
    assert any("held" in t and "below trip, held by latch" in t for t in words_of(plot))
    plot.canvas.moved.emit(at(plot, 100.0, 1), Qt.MouseButton.NoButton)
    assert any("held from 52.9 to 140.0 s" in t for t in words_of(plot))
    plot.canvas.left.emit()
    assert not plot.canvas.hover.labels


def test_what_is_tried_stands_over_what_is_in_force(plot):
    plot.show_result(BOTH)
    row = row_of(plot, 1)
    assert row.in_force_ribbon.top() > row.ribbon.bottom()
    assert row.row.runs == TRIAL.states[1]
    assert row.row.in_force_runs == REPLAY.states[1]
    assert row_of(plot, 0).in_force_ribbon is None
    told = " ".join(words_of(plot))
    assert "in force 125 µm" in told
    assert "trial 135 µm" in told
    assert "on trial above, in force below" in plot.subtitle()


def test_rows_that_have_no_room_are_counted(plot):
    rows = state_rows(REPLAY, None, 3)
    placed, left_out = placed_rows(rows, QRectF(0, 0, 400, LANE + 50))
    kept = {each.row.index for each in placed}
    assert 3 in kept  # the chosen one stays
    assert len(kept) + len(left_out) == len(rows)
    assert all(each.box.bottom() <= LANE + 50 + 1e-6 for each in placed)
    plot.resize(900, 130)
    settle()
    assert any("more limit" in text for text in words_of(plot))


@pytest.mark.parametrize("size", [(320, 110), (420, 200), (900, 330), (1500, 600)])
@pytest.mark.parametrize("part", [None, TimeSpan(44.0, 58.0), TimeSpan(47.0, 48.0)])
@pytest.mark.parametrize("view", [VIEW, BOTH])
def test_words_neither_leave_the_picture_nor_cover_each_other(plot, size, part, view):
    plot.resize(*size)
    plot.show_result(view)
    plot.set_time_range(part)
    plot.set_moment(48.3, "48.30 s · 3180 r/min")
    settle()
    assert_words_have_room(plot)


def test_keys_choose_limits_events_and_resets(plot, asked):
    QTest.keyClick(plot, Qt.Key.Key_Down)
    QTest.keyClick(plot, Qt.Key.Key_Up)
    assert asked == [("limit", 2), ("limit", 0)]
    asked.clear()
    plot.set_moment(50.0, "50.00 s")
    QTest.keyClick(plot, Qt.Key.Key_Period)
    QTest.keyClick(plot, Qt.Key.Key_Comma)
    assert asked == [("moment", 52.9), ("moment", 47.4)]
    asked.clear()
    QTest.keyClick(plot, Qt.Key.Key_R)
    plot.set_moment(140.0, "140.00 s")
    QTest.keyClick(plot, Qt.Key.Key_R)
    assert asked == [("place", 50.0), ("take off", 140.0)]


def test_the_real_replay_is_drawn_without_a_word_of_error(plot):
    series = fake.alarm_series()
    setups = (fake.alarm_setup(), fake.alarm_setup(135.0, 2.0))
    in_force, trial = (replay(series, setup, resets_s=(140.0,)) for setup in setups)
    plot.show_result(StatesView(in_force, trial, fake.TRIP))
    plot.grab()
    assert any(run.state == "held" for run in in_force.states[fake.TRIP])
    assert any(text.startswith("held") for text in words_of(plot))
    for size in ((420, 200), (900, 330)):
        plot.resize(*size)
        settle()
        assert_words_have_room(plot)


@pytest.mark.parametrize("height", [140, 180, 240, 400])
def test_a_latch_that_holds_is_named_at_any_height(plot, height):
    plot.resize(900, height)
    plot.show_result(BOTH)
    settle()
    assert any(text.startswith("held") for text in words_of(plot))


def test_times_stand_in_line_with_the_level_above(plot, qtbot):
    from app.plots.level_plot import LevelPlot, LevelView

    level = LevelPlot()
    qtbot.addWidget(level)
    level.resize(plot.size())
    level.show()
    settle()
    level.show_result(LevelView(REPLAY.series, REPLAY.setup, fake.TRIP))
    level.grab()
    settle()
    mine, other = plot.canvas.data_rect(), level.canvas.data_rect()
    assert mine.left() == pytest.approx(other.left(), abs=1.0)
    assert mine.right() == pytest.approx(other.right(), abs=1.0)

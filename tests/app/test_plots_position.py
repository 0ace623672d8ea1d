"""The Position page's pictures: what every picture promises, and what each of them tells."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QPointF, Qt

from analysis.model.units import LengthUnit
from app.plots import style
from app.plots.centreline_plot import CentrelinePlot, CentrelineView
from app.plots.gap_plot import GapPlot, GapView
from app.plots.loop_plot import LoopPlot, LoopView
from app.plots.position_words import IN_RANGE, RangeState, range_state
from app.plots.ruler_plot import RulerPlot
from app.plots.ruler_rows import RulerView
from app.plots.thrust_plot import ThrustPlot, ThrustView
from app.plots.train_plot import TrainPlot, TrainView
from app.plots.working_point_plot import WorkingPointPlot, WorkingPointView

from . import fake_position as fake
from .picture_checks import assert_words_have_room, labels_of
from .plot_contract import PlotCase, PlotContract, settle, words_of

SETUP = fake.axial_setup()
NAMES = [probe.name for probe in SETUP.probe]


def ruler(size: float = 1.0, *, void: bool = False, span: bool = False) -> RulerView:
    probes = tuple(fake.position(name, size, void=void) for name in NAMES)
    if span:
        probes = tuple(replace(each, chosen=each.moment) for each in probes)
    states = dict.fromkeys(NAMES, IN_RANGE) | {fake.FAR: RangeState("severe", "outside")}
    return RulerView(probes, SETUP, fake.FAR, states)


def gap(size: float = 1.0, *, void: bool = False, name: str = fake.FAR) -> GapView:
    return GapView(
        fake.position(name, size, void=void), fake.table(size, void=void), SETUP, fake.WHOLE
    )


def point(size: float = 1.0, *, void: bool = False, bent: bool = False) -> WorkingPointView:
    return WorkingPointView(fake.position(fake.FAR, size, void=void, bent=bent), SETUP)


def centreline(size: float = 1.0, **how: bool) -> CentrelineView:
    return CentrelineView(fake.plane("Drive end", size, **how), SETUP)


def train(size: float = 1.0, *, void: bool = False) -> TrainView:
    planes = tuple(fake.plane(p.name, size, void=void) for p in SETUP.plane)
    return TrainView(fake.stations(), planes, (fake.thrust(size, void=void),))


def thrust(size: float = 1.0, **how: bool) -> ThrustView:
    return ThrustView(fake.thrust(size, **how), SETUP, fake.WHOLE)


def loop(size: float = 1.0, *, void: bool = False) -> LoopView:
    return LoopView(fake.position(fake.FAR, size, void=void), SETUP)


CASES = {
    "ruler": PlotCase(RulerPlot, ruler, lambda: ruler(void=True), ("gap, µm", "1965 µm")),
    "gap": PlotCase(GapPlot, gap, lambda: gap(void=True), ("gap, µm", "time, s", "2280 µm")),
    "point": PlotCase(WorkingPointPlot, point, lambda: point(void=True), ("gap, µm", "voltage, V")),
    "centreline": PlotCase(
        CentrelinePlot, centreline, lambda: centreline(void=True), ("vertical, µm", "240 µm")
    ),
    "train": PlotCase(TrainPlot, train, lambda: train(void=True), ("from centre, µm", "61.0")),
    "thrust": PlotCase(ThrustPlot, thrust, lambda: thrust(void=True), ("thrust, µm", "400 µm")),
    "loop": PlotCase(LoopPlot, loop, lambda: loop(void=True), ("loop current, mA", "2280 µm")),
}


@pytest.fixture(params=list(CASES))
def case(request) -> PlotCase:
    return CASES[request.param]


class TestEveryPlot(PlotContract):
    pass


def shown(qtbot, plot, view, width: int = 560, height: int = 260):
    qtbot.addWidget(plot)
    plot.resize(width, height)
    plot.show()
    plot.show_result(view)
    settle()
    plot.grab()
    settle()
    return plot


@pytest.mark.parametrize("size", [(700, 420), (460, 170), (600, 240)])
@pytest.mark.parametrize("unit", list(LengthUnit))
def test_words_have_room(qtbot, case, size, unit):
    plot = case.make()
    plot.set_unit(unit)
    shown(qtbot, plot, case.view(1.0), *size)
    assert labels_of(plot)
    assert_words_have_room(plot)


def press(plot, place: QPointF) -> None:
    plot.canvas.pressed.emit(place, Qt.KeyboardModifier.NoModifier)


class TestRuler:
    def test_margins_to_both_ends_stand_for_every_stretch_of_time(self, qtbot):
        plot = shown(qtbot, RulerPlot(), ruler(span=True), 640, 260)
        told = words_of(plot)
        assert told.count("span") == told.count("capture") == told.count("moment") == len(NAMES)
        # Mean 2245 µm, 43 µm to either side: 8 µm beyond 2280 µm, in a range of 2030 µm.
        assert "−8.0 µm −0.4 %" in told
        assert "5.0 µm 0.2 %" in told
        assert "1952 µm 96 %" in told

    def test_state_is_shape_and_word(self, qtbot):
        told = words_of(shown(qtbot, RulerPlot(), ruler(), 640, 300))
        assert "◆ outside" in told
        assert told.count("– inside") == len(NAMES) - 1

    def test_low_rows_keep_the_capture(self, qtbot):
        plot = shown(qtbot, RulerPlot(), ruler(span=True), 640, 130)
        assert words_of(plot).count("capture") == len(NAMES)
        assert "span" not in words_of(plot)

    def test_pressing_a_row_asks_for_its_probe(self, qtbot):
        plot = shown(qtbot, RulerPlot(), ruler(), 640, 300)
        with qtbot.waitSignal(plot.probe_requested) as asked:
            press(plot, plot._rows[1].box.center())
        assert asked.args == ["DE-Y"]

    def test_keys_walk_through_the_probes(self, qtbot):
        plot = shown(qtbot, RulerPlot(), ruler(), 640, 300)
        with qtbot.waitSignal(plot.probe_requested) as asked:
            qtbot.keyClick(plot, Qt.Key.Key_Down)
        assert asked.args == ["NDE-Y"]
        with qtbot.waitSignal(plot.probe_requested) as asked:
            qtbot.keyClick(plot, Qt.Key.Key_Up)
        assert asked.args == ["DE-Y"]

    def test_only_what_lies_beyond_an_end_is_red(self, qtbot):
        plot = shown(qtbot, RulerPlot(), ruler(), 640, 300)
        red = style.condition_colour("trip", style.Theme.LIGHT)
        marked = [s for s in plot.canvas.over.shapes if s.brush.color() == red]
        (only,) = marked
        edge = plot.canvas.to_pixels(fake.RANGE[1], 0.0).x()
        assert only.polygon.boundingRect().left() == pytest.approx(edge, abs=0.5)


class TestGap:
    def test_the_red_area_is_what_lies_beyond_the_end(self, qtbot):
        plot = shown(qtbot, GapPlot(), gap())
        box = plot._beyond.path().boundingRect()
        assert box.top() == pytest.approx(fake.RANGE[1], abs=0.01)
        most = float(np.max(fake.table().probes[fake.FAR].max_um))
        assert box.bottom() == pytest.approx(most, abs=0.01)
        assert 6.0 < box.left() < 7.0
        assert 18.0 < box.right() < 20.0

    def test_a_probe_inside_has_no_red(self, qtbot):
        plot = shown(qtbot, GapPlot(), gap(name="DE-X"))
        assert plot._beyond.path().isEmpty()
        assert any("far end 2280 µm, " in text and "away" in text for text in words_of(plot))

    def test_a_single_turn_outside_is_seen(self, qtbot):
        table = fake.table()
        column = table.probes["DE-X"]
        most = column.max_um.copy()
        most[300] = 2300.0
        probes = {**table.probes, "DE-X": replace(column, max_um=most)}
        view = GapView(fake.position("DE-X"), replace(table, probes=probes), SETUP, fake.WHOLE)
        plot = shown(qtbot, GapPlot(), view)
        assert plot._beyond.path().boundingRect().height() == pytest.approx(20.0)

    def test_pressing_a_bar_of_the_strip_goes_to_the_worst_of_it(self, qtbot):
        plot = shown(qtbot, GapPlot(), gap())
        top = plot.canvas.data_rect().top() + 3
        with qtbot.waitSignal(plot.moment_requested) as asked:
            press(plot, QPointF(plot._pixel(16.4), top))
        assert asked.args == [17.5]
        with qtbot.waitSignal(plot.moment_requested) as asked:
            press(plot, QPointF(plot._pixel(12.0), top + 60))
        assert asked.args[0] == pytest.approx(12.0, abs=0.1)

    def test_keys_go_from_stretch_to_stretch(self, qtbot):
        plot = shown(qtbot, GapPlot(), gap())
        plot.set_moment(10.0, "10.00 s")
        with qtbot.waitSignal(plot.moment_requested) as asked:
            qtbot.keyClick(plot, Qt.Key.Key_Period)
        assert asked.args == [17.5]
        with qtbot.waitSignal(plot.moment_requested) as asked:
            qtbot.keyClick(plot, Qt.Key.Key_Comma)
        assert asked.args == [7.0]

    def test_the_reading_at_the_moment_stands_at_the_cursor(self, qtbot):
        plot = shown(qtbot, GapPlot(), gap(), 700, 300)
        plot.set_moment(3.0, "3.00 s")
        column = fake.table().probes[fake.FAR]
        (told,) = [text for text in words_of(plot) if text.startswith("3.00 s")]
        assert f"{column.gap_um[59]:.0f} µm" in told or f"{column.gap_um[60]:.0f} µm" in told

    def test_the_scale_stays_while_the_moment_moves(self, qtbot):
        plot = shown(qtbot, GapPlot(), gap())
        before = plot.canvas.box.viewRange()
        plot.set_moment(20.0, "20.00 s")
        plot.show_result(gap())
        assert plot.canvas.box.viewRange() == before

    def test_a_cut_is_named_on_its_level(self, qtbot):
        view = gap()
        view = replace(view, position=replace(view.position, clips=(fake.clip(),)))
        plot = shown(qtbot, GapPlot(), view, 700, 360)
        assert any("waveform cut level at 2283 µm" in text for text in words_of(plot))


class TestWorkingPoint:
    def test_a_bent_curve_says_what_it_does_to_p_p(self, qtbot):
        plot = shown(qtbot, WorkingPointPlot(), point(bent=True))
        told = words_of(plot)
        assert "slope here 6.600 mV/µm, average 7.874" in told
        assert "p-p 60.0 µm; by the average 48.8 µm, 18.7 % less" in told

    @pytest.mark.parametrize("size", [(420, 130), (340, 150), (300, 180)])
    def test_a_small_picture_keeps_what_matters_most(self, qtbot, size):
        told = words_of(shown(qtbot, WorkingPointPlot(), point(bent=True), *size))
        assert any("18.7 % less" in words for words in told)

    def test_words_stay_where_they_are_while_a_figure_changes(self, qtbot):
        view = point(bent=True)
        plot = shown(qtbot, WorkingPointPlot(), view)
        where = {each.text: each.rect.top() for each in plot.canvas.over.labels}
        moved = replace(view.position.working_point, gap_um=2236.0)
        plot.show_result(WorkingPointView(replace(view.position, working_point=moved), SETUP))
        after = {each.text: each.rect.top() for each in plot.canvas.over.labels}
        assert after != where
        effect = "p-p 60.0 µm; by the average 48.8 µm, 18.7 % less"
        assert after[effect] == where[effect]

    def test_without_a_table_it_says_so(self, qtbot):
        assert "no calibration table in the setup" in words_of(
            shown(qtbot, WorkingPointPlot(), point())
        )

    def test_the_swing_runs_on_the_curve_between_the_extremes(self, qtbot):
        plot = shown(qtbot, WorkingPointPlot(), point(bent=True))
        x, y = plot._swing.getData()
        assert (x[0], x[-1]) == (2215.0, 2275.0)
        curve = point(bent=True).position.working_point
        assert y == pytest.approx(np.interp(x, curve.curve_um, curve.curve_v))

    def test_a_close_up_shows_the_surroundings(self, qtbot):
        plot = shown(qtbot, WorkingPointPlot(), point())
        plot.set_close(True)
        (low, high), _ = plot.canvas.box.viewRange()
        assert low < 2215.0 < 2275.0 < high
        assert high - low < 500.0
        plot.set_close(False)
        assert plot.canvas.box.viewRange()[0][0] <= fake.RANGE[0]


class TestCentreline:
    def test_faster_is_stronger(self, qtbot):
        plot = shown(qtbot, CentrelinePlot(), centreline())
        lightness = [curve.opts["pen"].color().lightness() for curve in plot._curves]
        assert lightness == sorted(lightness, reverse=True)
        first, last = plot._curves[0].getData()[1], plot._curves[-1].getData()[1]
        # The path starts at the bottom, slowly.
        assert np.nanmin(first) < np.nanmin(last)

    def test_one_speed_has_one_shade(self, qtbot):
        plot = shown(qtbot, CentrelinePlot(), centreline(steady=True))
        drawn = [curve.getData()[0] for curve in plot._curves]
        assert [x is not None and len(x) > 0 for x in drawn] == [False] * 5 + [True]

    def test_ratio_and_attitude_stand_beside_the_name(self, qtbot):
        plot = shown(qtbot, CentrelinePlot(), centreline())
        assert plot.title() == "Drive end"
        assert plot.subtitle() == "eccentricity 0.67 · attitude 40°"

    def test_a_shaft_that_stands_still_changes_words_alone(self, qtbot):
        view = centreline()
        plot = shown(qtbot, CentrelinePlot(), view)
        drawn = plot.canvas.over.labels
        now = view.plane.moment
        still = replace(now, x_um=now.x_um + 0.01, eccentricity_ratio=0.71)
        plot.show_result(CentrelineView(replace(view.plane, moment=still), view.setup))
        assert plot.canvas.over.labels is drawn
        assert plot.subtitle().startswith("eccentricity 0.71")
        gone = replace(now, x_um=now.x_um - 30.0)
        plot.show_result(CentrelineView(replace(view.plane, moment=gone), view.setup))
        at = plot.canvas.to_pixels(gone.x_um, gone.y_um)
        dots = [each.polygon.boundingRect().center() for each in plot.canvas.over.shapes]
        assert any(abs(dot.x() - at.x()) < 0.5 and abs(dot.y() - at.y()) < 0.5 for dot in dots)

    def test_an_assumed_rest_is_said(self, qtbot):
        plot = shown(qtbot, CentrelinePlot(), centreline(assumed=True), 360, 300)
        assert "rest assumed" in plot.subtitle()
        assert any("rest assumed: 620 r/min" in text for text in words_of(plot))

    def test_pressing_the_path_goes_to_its_time(self, qtbot):
        plot = shown(qtbot, CentrelinePlot(), centreline(), 300, 300)
        path = fake.path()
        place = plot.canvas.to_pixels(float(path.x_um[400]), float(path.y_um[400]))
        with qtbot.waitSignal(plot.moment_requested) as asked:
            press(plot, place)
        assert asked.args[0] == pytest.approx(path.time_s[400], abs=0.3)
        with qtbot.assertNotEmitted(plot.moment_requested):
            press(plot, plot.canvas.to_pixels(-100.0, 100.0))

    def test_why_there_is_no_path(self, qtbot):
        why = "no rest gaps in the setup, and no turns slow enough to stand for rest"
        missing = replace(fake.plane(), path=None, moment=None, rest=None, missing=why)
        plot = shown(qtbot, CentrelinePlot(), CentrelineView(missing, SETUP), 300, 260)
        assert why in " ".join(" ".join(words_of(plot)).split("\n"))


class TestTrain:
    def test_every_station_tells_where_the_shaft_is(self, qtbot):
        told = words_of(shown(qtbot, TrainPlot(), train(), 700, 300))
        assert {"Drive end", "Non-drive end", "THR-A / THR-B", "driver"} <= set(told)
        assert told.count("down 61.0, right 52.0 µm") == 2
        assert "thrust 161 µm" in told

    def test_the_shaft_line_goes_through_the_planes(self, qtbot):
        plot = shown(qtbot, TrainPlot(), train())
        x, y = plot._side.getData()
        assert y == pytest.approx(np.full(4, -61.0))
        assert list(x[1:3]) == [0.0, 0.5]

    def test_pressing_a_plane_asks_for_it(self, qtbot):
        plot = shown(qtbot, TrainPlot(), train())
        with qtbot.waitSignal(plot.plane_requested) as asked:
            press(plot, plot.canvas.to_pixels(0.5, 0.0))
        assert asked.args == ["Non-drive end"]


class TestThrust:
    def test_agreement_and_float_in_words(self, qtbot):
        plot = shown(qtbot, ThrustPlot(), thrust())
        assert plot.subtitle() == "– agree within 0.5 µm (50 allowed) · float seen 12.0 µm"
        differ = shown(qtbot, ThrustPlot(), thrust(agree=False))
        assert differ.subtitle().startswith("▲ differ by 80.0 µm")

    def test_both_curves_carry_their_probe(self, qtbot):
        told = words_of(shown(qtbot, ThrustPlot(), thrust(agree=False)))
        assert {"THR-A", "THR-B"} <= set(told)


class TestLoop:
    def test_reading_current_and_volts_of_both(self, qtbot):
        told = words_of(shown(qtbot, LoopPlot(), loop()))
        # 4 + 16 (2245 - 250) / 2030 mA, across 250 Ω.
        assert {"19.72 mA", "4.931 V", "8.80 mA", "2.200 V"} <= set(told)
        assert "2245 µm, 98.3 % of full scale" in told

    def test_a_limit_that_the_loop_cannot_carry_is_said(self, qtbot):
        told = words_of(shown(qtbot, LoopPlot(), loop()))
        assert any("◆ limit off the scale" in text for text in told)

    def test_a_fault_is_said(self, qtbot):
        told = words_of(shown(qtbot, LoopPlot(), loop(void=True)))
        assert told.count("✗ circuit fault") == 2
        assert told.count("3.60 mA") == 2

    def test_a_held_reading_is_said(self, qtbot):
        position = fake.position()
        held = replace(position.loops[1], saturated="high", current_ma=20.5, percent=120.0)
        position = replace(position, loops=(position.loops[0], held))
        told = words_of(shown(qtbot, LoopPlot(), LoopView(position, SETUP), 620, 260))
        assert any("held at the high end" in text for text in told)


class TestStates:
    def test_the_worst_finding_gives_the_word(self):
        findings = [fake.outside_finding()]
        assert range_state(fake.use(2245.0, 43.0), findings, fake.FAR).text == "◆ outside"
        assert range_state(fake.use(1250.0, 43.0), findings, "DE-X").text == "– inside"
        assert range_state(None, [], "DE-X").word == "not known"

    def test_pictures_are_left_alone_by_other_findings(self):
        note = replace(fake.outside_finding(), severity="note", topic="forecast")
        assert range_state(fake.use(1250.0, 43.0), [note], fake.FAR) == IN_RANGE

"""The Lab's pictures: the contract of every picture, and what each of them shows."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from analysis.simulate.lab_state import LabProbe, LabState, Precession
from app.plots.circles_plot import CirclesPlot
from app.plots.lab_orbit_plot import LabOrbitPlot
from app.plots.lag_plot import LagPlot
from app.plots.shaft_plot import ShaftPlot
from app.plots.shaft_shapes import arc, reference_direction

from .lab_pictures import ellipse_view, view_of, void_view
from .plot_contract import PlotCase, PlotContract, settle, words_of


class TestShaftContract(PlotContract):
    @pytest.fixture
    def case(self):
        return PlotCase(ShaftPlot, ellipse_view, void_view, ("µm",))


class TestCirclesContract(PlotContract):
    @pytest.fixture
    def case(self):
        return PlotCase(CirclesPlot, ellipse_view, void_view, ("µm",))


class TestLagContract(PlotContract):
    @pytest.fixture
    def case(self):
        return PlotCase(LagPlot, ellipse_view, void_view, ("µm", "turns"))


class TestLabOrbitContract(PlotContract):
    @pytest.fixture
    def case(self):
        return PlotCase(LabOrbitPlot, ellipse_view, void_view, ("µm",))


def shown(kind, view, qtbot, size=(420, 420)):
    plot = kind()
    qtbot.addWidget(plot)
    plot.resize(*size)
    plot.show()
    plot.show_result(view)
    settle()
    return plot


def place_of(plot, rank: int) -> complex:
    """Where a moving shape is, in the data's own unit."""
    shape = plot.canvas.hover.shapes[rank]
    at = plot.canvas.to_data(shape.polygon.boundingRect().center())
    return complex(at.x(), at.y())


class TestShaft:
    @pytest.mark.parametrize("rotation", ["ccw", "cw"])
    def test_the_notch_passes_the_reference_at_the_event_and_turns_with_the_shaft(
        self, qtbot, rotation
    ):
        plot = shown(ShaftPlot, view_of(LabState(rotation=rotation)), qtbot)
        directions = []
        for turns in (0.0, 0.1):
            plot.set_turns(turns)
            middle, notch = place_of(plot, 0), place_of(plot, 2)
            directions.append(math.degrees(np.angle(notch - middle)))
        assert directions[0] == pytest.approx(-90.0, abs=2.0)
        turned = (directions[1] - directions[0] + 180.0) % 360.0 - 180.0
        assert turned == pytest.approx(36.0 if rotation == "ccw" else -36.0, abs=2.0)

    def test_the_shaft_stands_where_its_path_says(self, qtbot):
        view = view_of(LabState((Precession(1.0, 60.0, 40.0),)))
        plot = shown(ShaftPlot, view, qtbot)
        plot.set_turns(0.25)
        expected = 30.0 * np.exp(1j * math.radians(130.0))
        assert place_of(plot, 0) == pytest.approx(expected, abs=1.5)

    @pytest.mark.parametrize("rotation", ["ccw", "cw"])
    def test_an_arc_ends_where_the_notch_is_when_the_high_spot_is_at_the_probe(
        self, qtbot, rotation
    ):
        view = view_of(LabState((Precession(1.0, 60.0, 200.0),), rotation=rotation))
        plot = shown(ShaftPlot, view, qtbot)
        for name, curve in zip(view.names, plot._arcs, strict=True):
            x, y = curve.getData()
            # The tip is the last but one point: the arrow head goes back from it on both sides.
            end = math.degrees(math.atan2(y[-2], x[-2]))
            way = 1.0 if rotation == "ccw" else -1.0
            expected = -90.0 + way * view.lag_deg(name)
            assert (end - expected + 180.0) % 360.0 - 180.0 == pytest.approx(0.0, abs=1.0)

    def test_a_probe_lights_up_when_the_high_spot_passes_it(self, qtbot):
        view = view_of(LabState((Precession(1.0, 60.0, 0.0),)))
        plot = shown(ShaftPlot, view, qtbot)
        lag = view.lag_deg("LAB-X")
        counts = []
        for degrees in (lag, lag + 40.0):
            plot.set_turns(degrees / 360.0)
            counts.append(len(plot.canvas.hover.shapes))
        assert counts[0] == counts[1] + 1

    def test_the_gap_at_a_probe_is_the_one_it_reads(self, qtbot):
        view = view_of(LabState((Precession(1.0, 60.0, 45.0),)))
        plot = shown(ShaftPlot, view, qtbot)
        plot.set_turns(0.0)
        # The circle points to LAB-X, 30 µm nearer than 1250.
        assert "1220 µm" in words_of(plot)

    def test_what_a_task_asks_for_is_not_told(self, qtbot):
        told = words_of(shown(ShaftPlot, ellipse_view(), qtbot))
        quiet = words_of(
            shown(ShaftPlot, replace(ellipse_view(), hidden=frozenset({"lag"})), qtbot)
        )
        assert any("lag" in word for word in told)
        assert not any("lag" in word for word in quiet)

    def test_the_reference_keeps_away_from_the_probes(self):
        assert reference_direction((45.0, -45.0)) == -90.0
        assert reference_direction((180.0, 90.0)) == 180.0

    def test_an_arc_runs_the_way_it_is_asked(self):
        for sweep in (120.0, -120.0):
            x, y = arc(1.0, -90.0, -90.0 + sweep)
            middle = math.degrees(math.atan2(y[30], x[30]))
            assert (middle + 90.0 > 0) == (sweep > 0)


class TestCircles:
    @pytest.mark.parametrize("rotation", ["ccw", "cw"])
    def test_the_arrows_add_up_to_the_orbit(self, qtbot, rotation):
        state = LabState((Precession(1.0, 60.0, 30.0, 20.0, 80.0),), rotation=rotation)
        view = view_of(state)
        plot = shown(CirclesPlot, view, qtbot)
        for turns in (0.0, 0.2, 0.7):
            plot.set_turns(turns)
            tips = [plot.canvas.to_data(rule.line.p2()) for rule in plot.canvas.hover.rules]
            tip = complex(tips[-1].x(), tips[-1].y())
            points = (len(view.result.seen.x) - 1) // view.result.shown_turns
            at = round(turns * points)
            on_orbit = complex(view.result.seen.x[at], view.result.seen.y[at])
            assert abs(tip - on_orbit) < 1.0

    def test_the_ellipse_is_told_in_the_unit_shown(self, qtbot):
        plot = shown(CirclesPlot, ellipse_view(), qtbot)
        assert "major 80.0 µm" in plot.subtitle()


class TestLag:
    def test_an_arrow_is_as_long_as_the_lag(self, qtbot):
        view = view_of(LabState((Precession(1.0, 60.0, 0.0),)))
        plot = shown(LagPlot, view, qtbot, (700, 300))
        ends = sorted(
            {round(plot.canvas.to_data(rule.line.p2()).x(), 3) for rule in plot.canvas.over.rules}
        )
        for name in view.names:
            assert any(abs(end - view.lag_deg(name) / 360.0) < 0.005 for end in ends)
        assert any("LAB-X" in word and "lag 45°" in word for word in words_of(plot))

    def test_the_same_signal_as_displacement_gap_and_voltage(self, qtbot):
        view = view_of(LabState((Precession(1.0, 60.0, 45.0),)))
        plot = shown(LagPlot, view, qtbot, (700, 300))
        starts = {}
        for quantity in ("displacement", "gap", "voltage"):
            plot.set_quantity(quantity)
            starts[quantity] = float(plot._curves[0].getData()[1][0])
        # At the event the shaft is 30 µm nearer to LAB-X: 1220 µm at 7.874 mV/µm.
        assert starts["displacement"] == pytest.approx(30.0, abs=0.01)
        assert starts["gap"] == pytest.approx(1220.0, abs=0.01)
        assert starts["voltage"] == pytest.approx(-1220.0 * 7.874e-3, abs=1e-4)

    def test_its_own_1x_is_drawn_where_there_is_more(self, qtbot):
        pure = shown(LagPlot, view_of(LabState()), qtbot)
        mixed = shown(LagPlot, ellipse_view(), qtbot)
        assert len(pure._once[0].getData()[0]) == 0
        assert len(mixed._once[0].getData()[0]) > 100
        assert "dotted" in mixed.subtitle()

    def test_dragging_turns_the_shaft(self, qtbot):
        plot = shown(LagPlot, ellipse_view(), qtbot, (700, 300))
        with qtbot.waitSignal(plot.turns_requested) as told:
            plot._drag(plot.canvas.to_pixels(0.5, 0.0))
        assert told.args[0] == pytest.approx(0.5, abs=0.01)


class TestOrbit:
    def test_what_the_shaft_truly_does_is_dotted_where_it_differs(self, qtbot):
        honest = shown(LabOrbitPlot, ellipse_view(), qtbot)
        assert len(honest._true_curve.getData()[0]) == 0
        swapped = view_of(LabState((Precession(1.0, 60.0, 10.0, 30.0, 0.0),), swapped=True))
        plot = shown(LabOrbitPlot, swapped, qtbot)
        x, _ = plot._true_curve.getData()
        assert np.allclose(x, swapped.result.shaft.x)
        assert "dotted" in plot.subtitle()

    def test_a_task_keeps_it_back(self, qtbot):
        state = LabState((Precession(1.0, 60.0, 10.0, 30.0, 0.0),), swapped=True)
        plot = shown(LabOrbitPlot, view_of(state, frozenset({"shaft", "precession"})), qtbot)
        assert len(plot._true_curve.getData()[0]) == 0
        assert "1X" not in plot.subtitle()

    def test_the_dot_runs_on_the_path(self, qtbot):
        view = ellipse_view()
        plot = shown(LabOrbitPlot, view, qtbot)
        plot.set_turns(0.4)
        points = (len(view.result.seen.x) - 1) // view.result.shown_turns
        at = int(0.4 * points)
        expected = complex(view.result.seen.x[at], view.result.seen.y[at])
        assert abs(place_of(plot, 0) - expected) < 0.5

    def test_probes_stand_where_the_setup_has_them(self, qtbot):
        probes = (LabProbe("P-A", 0.0), LabProbe("P-B", 90.0))
        plot = shown(LabOrbitPlot, view_of(LabState(probes=probes)), qtbot)
        assert {"P-A", "P-B"} <= set(words_of(plot))

"""The orbit: equal scales, limits along the probe axes, clearance, the way of motion."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QPointF

from analysis.model.results import OrbitPath
from app.plots import style
from app.plots.orbit_plot import OrbitPlot
from app.plots.orbit_shapes import clearance_circle, heading, limit_boxes, thinned, with_gaps

from . import fake_results as fake
from .plot_contract import settle, words_of
from .plot_views import orbit_view, void_orbit_view


@pytest.fixture
def plot(qtbot) -> OrbitPlot:
    style.load_fonts()
    style.configure_pyqtgraph()
    made = OrbitPlot()
    qtbot.addWidget(made)
    made.resize(560, 480)
    made.show()
    settle()
    return made


def circle_path(turning: float = 1.0, turns: int = 1, raw: bool = False) -> OrbitPath:
    """A circle of 50 µm; `turning` +1 runs counter-clockwise, the mark lies on +x."""
    angle = turning * np.linspace(0.0, 2 * np.pi * turns, 360 * turns + 1)
    marks = np.zeros(turns + 1 if raw else 1)
    return OrbitPath(
        "Drive end", 50 * np.cos(angle), 50 * np.sin(angle), marks + 50.0, marks, raw, "forward"
    )


@pytest.mark.parametrize("size", [(560, 480), (300, 520), (900, 300)])
def test_both_axes_have_one_scale_at_every_size(plot, size):
    plot.show_result(orbit_view())
    plot.resize(*size)
    settle()
    plot.grab()
    settle()
    across = plot.canvas.to_pixels(10.0, 0.0) - plot.canvas.to_pixels(0.0, 0.0)
    up = plot.canvas.to_pixels(0.0, 10.0) - plot.canvas.to_pixels(0.0, 0.0)
    assert across.x() == pytest.approx(-up.y(), rel=1e-6)
    assert across.x() > 0
    centre = plot.canvas.to_pixels(0.0, 0.0)
    assert (centre - plot.canvas.data_rect().center()).manhattanLength() < 0.01


def test_limit_boxes_reach_half_the_setting_along_each_probe():
    view = orbit_view()
    alarm = limit_boxes(view.plane, dict(view.probe_readings), view.setup)[1]
    assert alarm.level == "alarm"
    right = np.array(view.setup.probe[0].direction)
    left = np.array(view.setup.probe[1].direction)
    # Every corner lies on two of the four lines u·d = ±125/2.
    assert np.abs(alarm.corners @ right) == pytest.approx(np.full(4, 62.5))
    assert np.abs(alarm.corners @ left) == pytest.approx(np.full(4, 62.5))


def test_with_a_limit_on_one_probe_only_the_box_is_a_strip():
    setup = fake.fake_setup()
    setup = setup.model_copy(update={"limit": setup.limit[:2]})  # DE-X only
    view = orbit_view(setup=setup)
    box = limit_boxes(view.plane, dict(view.probe_readings), setup)[1]
    assert box.settings_um == (125.0, None)
    assert box.reach_um == np.inf
    right = np.array(setup.probe[0].direction)
    assert np.abs(box.corners @ right) == pytest.approx(np.full(4, 62.5))


def test_limits_that_differ_are_both_told(plot):
    setup = fake.fake_setup()
    limits = list(setup.limit)
    limits[2] = limits[2].model_copy(update={"above": 110.0})  # the alarm of DE-Y
    plot.show_result(orbit_view(setup=setup.model_copy(update={"limit": tuple(limits)})))
    assert any("alarm 125 / 110 µm p-p" in text for text in words_of(plot))


def test_the_clearance_is_drawn_about_the_bearing_centre():
    view = orbit_view()  # the shaft sits at (18, -62) from the bearing centre
    clearance = clearance_circle(view.plane, view.reading)
    assert (clearance.x_um, clearance.y_um, clearance.radius_um) == (-18.0, 62.0, 120.0)
    nowhere = replace(view.reading, centreline=None)
    assert clearance_circle(view.plane, nowhere) is None


def test_the_clearance_can_be_left_out(plot):
    plot.show_result(orbit_view())
    assert any("bearing clearance" in text for text in words_of(plot))
    circles = [shape for shape in plot.canvas.ground.shapes if shape.ellipse]
    assert len(circles) == 1
    plot.set_clearance_shown(False)
    assert not any("bearing clearance" in text for text in words_of(plot))
    assert not any(shape.ellipse for shape in plot.canvas.ground.shapes)


def test_the_gap_lies_just_before_the_mark():
    for path in (circle_path(), circle_path(-1.0)):
        x, y = with_gaps(path, 20.0)
        blank = np.flatnonzero(np.isnan(x))
        assert blank[-1] in (len(x) - 1, len(x) - 2)  # up to the mark, at the end of the turn
        length = len(blank) * 2 * np.pi * 50 / 360
        assert 18.0 < length < 22.0
        assert np.isfinite(x[0])
        assert np.isfinite(y[1:300]).all()


def test_a_raw_path_has_a_gap_before_every_mark():
    x, _ = with_gaps(circle_path(turns=3, raw=True), 20.0)
    starts = np.flatnonzero(np.diff(np.isnan(x).astype(int)) == 1)
    assert len(starts) == 3  # nothing lies before the first of the four


def test_thinning_changes_no_pixel_and_keeps_gaps():
    angle = np.linspace(0.0, 16 * np.pi, 40_000)
    x, y = 50 * np.cos(angle), 50 * np.sin(angle)
    x[20_000:20_100] = np.nan
    thin_x, thin_y = thinned(x, y, 0.4)
    assert len(thin_x) < 12_000
    assert np.isnan(thin_x).any()

    def cells(a, b):
        good = np.isfinite(a)
        return set(zip(np.floor(a[good] / 0.4), np.floor(b[good] / 0.4), strict=True))

    assert cells(thin_x, thin_y) == cells(x, y)


def test_the_arrow_shows_the_way_of_motion():
    for turning in (1.0, -1.0):
        x, y, dx, dy = heading(circle_path(turning))
        assert x * dy - y * dx == pytest.approx(50.0 * turning, rel=1e-3)  # r × v


def test_the_arrow_is_turned_the_right_way_up(plot):
    plot.show_result(orbit_view(raw=None, filtered=circle_path()))
    arrows = [s for s in plot.canvas.over.shapes if not s.ellipse]
    assert len(arrows) == 1
    tip, *rest = arrows[0].polygon.toList()
    back = rest[0] + (rest[2] - rest[0]) / 2
    centre = plot.canvas.to_pixels(0.0, 0.0)
    arm, way = tip - centre, tip - back
    # Counter-clockwise, on a screen whose y runs down: at right angles to the arm, turned left.
    length = np.hypot(arm.x(), arm.y()) * np.hypot(way.x(), way.y())
    assert (arm.y() * way.x() - arm.x() * way.y()) / length == pytest.approx(1.0, abs=0.01)


@pytest.mark.parametrize(
    ("paths", "raw", "filtered"), [("raw", 1, 0), ("filtered", 0, 1), ("both", 1, 1)]
)
def test_either_path_or_both(plot, paths, raw, filtered):
    plot.show_result(orbit_view())
    plot.set_paths(paths)
    assert bool(len(plot._raw_curve.getData()[0])) == bool(raw)
    assert bool(len(plot._filtered_curve.getData()[0])) == bool(filtered)


def test_one_missing_path_is_no_trouble(plot):
    plot.show_result(orbit_view(filtered=None))
    plot.show_result(orbit_view(raw=None))
    plot.set_paths("raw")
    assert any("no orbit here" in text for text in words_of(plot))


def test_words_say_rotation_and_precession(plot):
    plot.show_result(orbit_view())
    assert plot.title() == "Orbit, drive end"
    assert "rotation ccw" in plot.subtitle()
    assert "1X forward" in plot.subtitle()
    assert any(text.startswith("↺") for text in words_of(plot))


def test_a_lost_orbit_is_told(plot):
    plot.show_result(void_orbit_view())
    assert any("circuit fault" in text for text in words_of(plot))


@pytest.mark.parametrize("size", [0.3, 0.6, 1.0, 1.6, 3.0])
@pytest.mark.parametrize("window", [(560, 480), (300, 300)])
def test_no_level_word_covers_the_orbit_or_another_word(plot, size, window):
    plot.resize(*window)
    settle()
    plot.show_result(orbit_view(size=size))
    plot.grab()
    settle()
    flat = [label for label in plot.canvas.over.labels if label.angle == 0.0]
    raw = orbit_view(size=size).raw
    points = [plot.canvas.to_pixels(x, y) for x, y in zip(raw.x[::6], raw.y[::6], strict=True)]
    for number, label in enumerate(flat):
        if label.text in fake.NAMES:
            continue
        assert not any(label.rect.contains(QPointF(point)) for point in points), label.text
        for other in flat[number + 1 :]:
            assert not label.rect.intersects(other.rect)


def test_axes_of_the_probes_end_at_their_names(plot):
    plot.show_result(orbit_view())
    names = {label.text: label.rect.center() for label in plot.canvas.over.labels}
    centre = plot.canvas.to_pixels(0.0, 0.0)
    right, left = names["DE-X"] - centre, names["DE-Y"] - centre
    assert right.x() == pytest.approx(-right.y())  # 45° right of the top
    assert left.x() == pytest.approx(left.y())
    assert left.x() < 0

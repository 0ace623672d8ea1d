"""The Run page's card of paths: that of the vectors, or the shaft centreline in its place."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from app.pages import run_page
from app.plots import style
from tests.app.vector_table import write_vector_table

from .conftest import settled
from .test_window_run import SAMPLE, TIMEOUT_MS, wait

AT_3000_S = 38.12
"""Recipe of the sample: 3000 r/min on the way up, between two of its speeds."""

pytestmark = pytest.mark.qt_log_ignore("does not support propagateSizeHints")


@pytest.fixture
def page(qtbot, window) -> run_page.RunPage:
    """The run-up on the page, its centreline chosen with the mouse."""
    window.session.open(SAMPLE)
    window.show_page("run")
    wait(qtbot, window)
    made = window.pages["run"]
    press = made.path.choice.button("centreline")
    QTest.mouseClick(press, Qt.MouseButton.LeftButton)
    wait(qtbot, window)
    return made


def shown_plane(page):
    return page.path.centreline._view.plane


def test_the_centreline_of_the_chosen_plane_in_the_place_of_the_vectors(qtbot, page, window):
    session, path = window.session, page.path
    assert path.centreline.isVisible()
    assert not path.polar.isVisible()
    assert path.title() == "Drive end"
    # Recipe of the sample: eccentricity ratio at 3000 r/min 0.52 at the drive end, 0.50 at the
    # other; 0.91 and 0.89 at 600 r/min.
    speed = shown_plane(page).path.speed_rpm
    rows = np.flatnonzero(np.abs(speed - 3000.0) < 20.0)
    session.moment.set(float(shown_plane(page).path.time_s[rows[0]]))
    wait(qtbot, window)
    assert session.speed_at_moment() == pytest.approx(3000.0, abs=40.0)
    assert shown_plane(page).moment.eccentricity_ratio == pytest.approx(0.52, abs=0.01)
    session.run_choice.set(probes=("NDE-X",))
    wait(qtbot, window)
    assert path.title() == "Non-drive end"
    assert shown_plane(page).moment.eccentricity_ratio == pytest.approx(0.50, abs=0.01)
    # One way of the data: what Position shows is the very same answer.
    assert shown_plane(page) is session.position.result.planes["Non-drive end"]
    session.run_choice.set(path="vectors")
    wait(qtbot, window)
    assert path.polar.isVisible()
    assert path.title() == "1X vector path"
    assert {trace.probe for trace in path.polar._view.run.traces} == {"NDE-X"}


def test_a_press_on_the_path_moves_the_moment_and_the_mark_follows(qtbot, page, window):
    moment, plot = window.session.moment, page.path.centreline
    track = shown_plane(page).path
    row = int(np.nanargmin(np.abs(track.speed_rpm - 1000.0)))
    before, heights = plot._now_at, plot.canvas.box.viewRange()[1]
    at = plot.canvas.to_pixels(float(track.x_um[row]), float(track.y_um[row]))
    QTest.mouseClick(plot.canvas.viewport(), Qt.MouseButton.LeftButton, pos=at.toPoint())
    assert moment.moment_s != 80.0
    wait(qtbot, window)
    assert window.session.speed_at_moment() == pytest.approx(1000.0, abs=120.0)
    away = plot._now_at - at
    assert max(abs(away.x()), abs(away.y())) < 4.0
    assert plot._now_at != before
    assert plot.canvas.box.viewRange()[1] == heights


def test_unit_and_theme_follow(qtbot, page, window):
    plot = page.path.centreline
    window.session.unit.toggle()
    window.session.theme.set("dark")
    wait(qtbot, window)
    assert plot.theme() is style.Theme.DARK
    assert plot.canvas.left_axis.text() == "vertical, mil"
    window.session.run_choice.set(path="vectors")
    window.session.theme.set("light")
    window.session.unit.toggle()
    wait(qtbot, window)
    window.session.run_choice.set(path="centreline")
    wait(qtbot, window)
    assert plot.theme() is style.Theme.LIGHT
    assert plot.canvas.left_axis.text() == "vertical, µm"


def test_positions_are_asked_for_only_where_they_are_seen(qtbot, page, window):
    reader = window.session.position
    assert reader.wanted
    window.show_page("position")
    assert reader.wanted
    window.show_page("run")
    assert reader.wanted
    window.session.run_choice.set(path="vectors")
    wait(qtbot, window)
    assert not reader.wanted
    window.show_page("position")
    assert reader.wanted
    window.show_page("moment")
    assert not reader.wanted


def test_a_rest_that_nobody_measured_is_told(qtbot, page, window):
    session = window.session
    assert "assumed" not in page.path.centreline.subtitle()
    setup = session.capture.setup
    bare = tuple(probe.model_copy(update={"rest_gap_um": None}) for probe in setup.probe)
    session.opener.use_setup(setup.model_copy(update={"probe": bare}))
    qtbot.waitUntil(lambda: session.timeline.complete, timeout=TIMEOUT_MS)
    wait(qtbot, window)
    assert shown_plane(page).rest.assumed
    assert page.path._subtitle.text().startswith("rest assumed")
    assert any("▲ rest assumed" in each.text for each in page.path.centreline.canvas.over.labels)


def test_a_table_of_vectors_holds_no_gap(qtbot, page, window, tmp_path):
    speed = np.linspace(700.0, 3600.0, 80)
    vectors = 10.0 * (speed / 2000.0) ** 2 / (1 - (speed / 2000.0) ** 2 + 0.1j * speed / 2000.0)
    window.session.open(write_vector_table(tmp_path / "vectors.csv", speed, vectors))
    wait(qtbot, window)
    assert window.session.run_choice.now.path == "centreline"  # for as long as the window lives
    assert page.path.centreline.is_empty()
    assert "holds no gap" in page.path.centreline.empty_text()
    assert "holds no gap" in page.path.choice.button("centreline").toolTip()
    assert not window.session.position.wanted
    assert page.path.title() == "Shaft centreline"


def test_without_a_phase_reference_there_is_a_centreline_all_the_same(qtbot, page, window):
    session = window.session
    setup = session.capture.setup
    session.opener.use_setup(setup.model_copy(update={"phase_reference": None}))
    qtbot.waitUntil(lambda: session.run.phase == "unphased", timeout=TIMEOUT_MS)
    qtbot.waitUntil(lambda: settled(session), timeout=TIMEOUT_MS)
    qtbot.waitUntil(page.is_settled, timeout=TIMEOUT_MS)
    assert page.bode.amplitude.is_empty()
    assert np.isfinite(shown_plane(page).path.x_um).any()


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_pictures_of_the_page(qtbot, page, window, theme, tmp_path):
    window.session.theme.set(theme)
    window.session.moment.set(AT_3000_S)
    canvas = page.path.centreline.canvas
    folder = Path(os.environ.get("RUNTRUE_SCREENSHOTS", tmp_path))
    folder.mkdir(parents=True, exist_ok=True)
    for width, height in ((1280, 800), (1600, 1000)):
        window.resize(width, height)
        wait(qtbot, window)
        picture = window.grab()
        assert picture.save(str(folder / f"window-run-centreline-{theme}-{width}.png"))
        assert "now" in {label.text for label in canvas.over.labels}
        for label in canvas.over.labels:
            assert canvas.data_rect().adjusted(-1, -1, 1, 1).contains(label.rect), label.text

"""How fast the pictures redraw: 1600 x 1000, off screen, processor time of the one thread.

Wanted (design, "What it must reach"): 60 frames a second while the moment moves.
"""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtWidgets import QApplication, QGridLayout, QWidget

from app.plots import style
from app.plots.card import Card
from app.plots.orbit_plot import OrbitPlot
from app.plots.spectrum_plot import SpectrumPlot
from app.plots.timeline_plot import TimelinePlot, TimelineView
from app.plots.waveform_plot import WaveformPlot
from tests.app import fake_results as fake
from tests.app import plot_views as views

# The off-screen platform says so of every window with a least size.
pytestmark = pytest.mark.qt_log_ignore("propagateSizeHints")

FRAMES = 200


@pytest.fixture
def page(qtbot):
    style.load_fonts()
    style.configure_pyqtgraph()
    style.apply_theme(QApplication.instance(), style.Theme.LIGHT)
    window = QWidget()
    qtbot.addWidget(window)
    plots = (WaveformPlot(), WaveformPlot(), OrbitPlot(), SpectrumPlot(), TimelinePlot())
    grid = QGridLayout(window)
    places = ((0, 0, 1, 1), (1, 0, 1, 1), (0, 1, 1, 1), (1, 1, 1, 1), (2, 0, 1, 2))
    for plot, place in zip(plots, places, strict=True):
        grid.addWidget(Card(plot), *place)
    window.resize(1600, 1000)
    window.show()
    window.plots = plots
    return window


def frames() -> list[tuple]:
    made = []
    for number in range(20):
        phase = 2 * np.pi * number / 20
        waves = [
            views.waveform_view(name, waveform=fake.fake_waveform(name, 3000, phase))
            for name in ("DE-X", "DE-Y")
        ]
        orbit = views.orbit_view(
            raw=fake.fake_orbit(True, 3000, phase=phase),
            filtered=fake.fake_orbit(False, phase=phase),
        )
        made.append((*waves, orbit, views.spectrum(lines=4097)))
    return made


def test_frames_a_second_while_the_moment_moves(page, capsys):
    shown = frames()
    page.plots[4].show_result(views.timeline_view())

    def frame(number: int) -> None:
        for plot, view in zip(page.plots, shown[number % 20], strict=False):
            plot.show_result(view)
        page.plots[4].set_moment(number / 2, f"{number / 2:.2f} s · 3180 r/min")
        QApplication.processEvents()

    for number in range(20):
        frame(number)
    start = time.process_time()
    for number in range(FRAMES):
        frame(number)
    rate = FRAMES / (time.process_time() - start)
    with capsys.disabled():
        print(f"\nfive pictures at 1600 x 1000: {rate:.0f} frames a second")
    assert rate >= 60


def test_a_timeline_of_a_million_revolutions(page, capsys):
    run = fake.fake_run(1_000_000)
    result = replace(
        fake.fake_timeline(),
        time_s=run["time_s"],
        speed_rpm=run["speed_rpm"],
        peak_to_peak_um={"DE-X": run["pp_um"]},
        condition={"DE-X": run["condition"]},
    )
    view = TimelineView(result, views.timeline_view().setup, "DE-X")
    start = time.process_time()
    page.plots[4].show_result(view)
    spent = time.process_time() - start
    with capsys.disabled():
        print(f"\na million revolutions laid out in {spent * 1000:.0f} ms")
    # The GUI thread is never busy longer than 50 ms.
    assert spent < 0.05

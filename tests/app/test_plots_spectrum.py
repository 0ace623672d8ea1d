"""The spectrum: directions, labelled lines, axes, reduction that loses no line."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from PySide6.QtCore import Qt

from app.plots import style
from app.plots.spectrum_peaks import frequency_text, largest_peaks
from app.plots.spectrum_plot import SpectrumPlot

from . import fake_results as fake
from .plot_contract import settle, words_of
from .plot_views import spectrum


@pytest.fixture
def plot(qtbot) -> SpectrumPlot:
    style.load_fonts()
    style.configure_pyqtgraph()
    made = SpectrumPlot()
    qtbot.addWidget(made)
    made.resize(560, 260)
    made.show()
    settle()
    return made


def test_two_sided_says_which_side_is_which(plot):
    plot.show_result(spectrum())
    labels = {label.text: label for label in plot.canvas.over.labels}
    zero = plot.canvas.to_pixels(0.0, 0.0).x()
    assert labels["← backward"].rect.right() < zero < labels["forward →"].rect.left()
    low, high = plot.canvas.box.viewRange()[0]
    assert low == -high
    uprights = [r for r in plot.canvas.ground.rules if r.line.dx() == 0.0]
    assert any(abs(r.line.x1() - zero) <= 0.51 for r in uprights)


def test_one_sided_starts_at_zero(plot):
    plot.show_result(spectrum(two_sided=False))
    assert plot.title() == "Spectrum"
    assert plot.canvas.box.viewRange()[0][0] == 0.0
    assert not any("backward" in text for text in words_of(plot))


def test_the_axis_follows_the_frequency_unit_and_the_scaling(plot):
    plot.show_result(spectrum(axis="hz"))
    assert plot.canvas.bottom.text() == "frequency, Hz"
    assert "53.0 Hz" in " ".join(words_of(plot))
    plot.show_result(replace(spectrum(), scaling="rms"))
    assert plot.canvas.bottom.text() == "frequency, orders"
    assert plot.canvas.left_axis.text() == "amplitude, µm rms"


def test_window_and_resolution_are_told(plot):
    plot.show_result(spectrum())
    assert plot.subtitle().startswith("Hann · ")
    assert "lines 0.00781 orders apart" in plot.subtitle()


def test_the_largest_lines_are_named_with_their_amplitudes(plot):
    plot.show_result(spectrum())
    told = words_of(plot)
    for name in ("1X · 89.0", "−1X · 18.0", "2X · 15.0", "−2X · 7.0"):
        assert name in told
    assert any(text.startswith("0.47X") for text in told)


def test_labels_keep_apart(plot):
    for size in ((560, 260), (300, 160)):
        plot.resize(*size)
        settle()
        plot.show_result(spectrum())
        labels = plot.canvas.over.labels
        assert len(labels) >= 5
        assert not any(a.rect.intersects(b.rect) for a, b in combinations(labels, 2))
        area = plot.canvas.data_rect()
        assert all(area.contains(label.rect) for label in labels)


def test_noise_alone_is_not_labelled():
    rng = np.random.default_rng(5)
    noise = replace(fake.fake_spectrum(), amplitude_um=rng.rayleigh(1.0, 1025))
    assert largest_peaks(noise, -4.0, 4.0) == ()


def test_one_line_of_a_wide_window_is_one_peak():
    result = fake.fake_spectrum()
    shape = np.exp(-((result.frequency - 1.0) ** 2) / (2 * (2 * result.resolution) ** 2))
    ripple = 1.0 + 0.02 * (-1.0) ** np.arange(1025)
    [peak] = largest_peaks(replace(result, amplitude_um=80 * shape * ripple, enbw=3.8), -4, 4)
    assert peak.frequency == pytest.approx(1.0, abs=2 * result.resolution)


@pytest.mark.parametrize(
    ("frequency", "axis", "text"),
    [
        (1.0, "orders", "1X"),
        (-2.004, "orders", "−2X"),
        (0.47, "orders", "0.47X"),
        (1.1, "orders", "1.10X"),
        (53.02, "hz", "53.0 Hz"),
    ],
)
def test_frequencies_in_words(frequency, axis, text):
    assert frequency_text(frequency, axis, 0.01) == text


def test_a_long_spectrum_is_drawn_by_the_peak_of_each_column(plot):
    # 480 orders: a line of 0.25 orders' width falls between pixels unless the peak is kept.
    frequency = np.linspace(-480.0, 480.0, 30721)
    amplitude = np.full(30721, 0.1)
    amplitude[np.argmin(np.abs(frequency - 1.0))] = 50.0
    amplitude[np.argmin(np.abs(frequency - 333.0))] = 20.0
    result = replace(
        spectrum(), frequency=frequency, amplitude_um=amplitude, resolution=960 / 30720
    )
    plot.show_result(result)
    x, y = plot._curve.getData()
    assert len(x) <= 1800
    assert np.nanmax(y) == 50.0
    assert np.nanmax(y[x > 100]) == 20.0
    assert "peak of each pixel column" in plot.subtitle()


def test_only_the_part_with_lines_is_shown_at_first(plot):
    frequency = np.linspace(-480.0, 480.0, 30721)
    amplitude = np.full(30721, 0.01)
    amplitude[np.argmin(np.abs(frequency - 1.0))] = 50.0
    plot.show_result(replace(spectrum(), frequency=frequency, amplitude_um=amplitude))
    low, high = plot.canvas.box.viewRange()[0]
    assert 4.0 <= high <= 6.0
    assert low == -high


def test_the_wheel_zooms_and_fit_brings_all_back(plot):
    plot.show_result(spectrum())
    before = plot.canvas.box.viewRange()
    plot.canvas.wheeled.emit(3.0, plot.canvas.to_pixels(1.0, 20.0))
    low, high = plot.canvas.box.viewRange()[0]
    assert before[0][0] < low < 1.0 < high < before[0][1]
    plot.fit()
    assert plot.canvas.box.viewRange() == before


def test_keys_zoom_about_the_largest_line(plot, qtbot):
    plot.show_result(spectrum())
    at = plot.canvas.to_pixels(1.0, 0.0).x()
    qtbot.keyClick(plot, Qt.Key.Key_Plus)
    assert plot.canvas.to_pixels(1.0, 0.0).x() == pytest.approx(at, abs=0.5)


def test_hovering_reads_out_a_line(plot):
    plot.show_result(spectrum())
    plot.canvas.moved.emit(plot.canvas.to_pixels(1.0, 20.0), Qt.MouseButton.NoButton)
    [label] = plot.canvas.hover.labels
    assert label.text == "1.000X · 89.0 µm"

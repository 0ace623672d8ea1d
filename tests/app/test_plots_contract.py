"""Every picture keeps the promises of `plot_contract`."""

from __future__ import annotations

import pytest

from app.plots.orbit_plot import OrbitPlot
from app.plots.spectrum_plot import SpectrumPlot
from app.plots.timeline_plot import TimelinePlot
from app.plots.waveform_plot import WaveformPlot

from . import plot_views as views
from .plot_contract import PlotCase, PlotContract

CASES = {
    "waveform": PlotCase(
        WaveformPlot,
        lambda size: views.waveform_view(size=size),
        views.void_waveform_view,
        ("gap, µm", "time, ms", "125 µm p-p"),
    ),
    "orbit": PlotCase(
        OrbitPlot,
        views.orbit_view,
        views.void_orbit_view,
        ("horizontal, µm", "vertical, µm", "240 µm"),
    ),
    "spectrum": PlotCase(
        SpectrumPlot, views.spectrum, views.void_spectrum, ("µm p-p", "frequency, orders")
    ),
    "timeline": PlotCase(
        TimelinePlot, views.timeline_view, views.void_timeline_view, ("µm p-p", "r/min", "time, s")
    ),
}


@pytest.fixture(params=list(CASES))
def case(request) -> PlotCase:
    return CASES[request.param]


class TestEveryPlot(PlotContract):
    pass

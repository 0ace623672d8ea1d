"""Views of the fake results, ready to be shown by the plots."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from analysis.model.results import OrbitPath, ProbeWaveform, SpectrumResult, Trace
from app.plots.orbit_plot import OrbitView
from app.plots.timeline_plot import TimelineView
from app.plots.waveform_plot import WaveformView

from . import fake_results as fake


def waveform_view(name: str = "DE-X", size: float = 1.0, **changes: object) -> WaveformView:
    """A waveform with `size` times its swing; `changes` replace parts of the view."""
    setup = changes.pop("setup", None) or fake.fake_setup()
    whole = fake.fake_waveform(name)
    mean = whole.mean_um
    waveform = replace(
        whole,
        trace=Trace(whole.trace.x, mean + size * (whole.trace.y - mean)),
        marks_um=mean + size * (whole.marks_um - mean),
    )
    index = fake.NAMES.index(name)
    view = WaveformView(waveform, setup.probe[index], index, fake.fake_reading(name, setup), setup)
    return replace(view, **changes)


def void_waveform_view() -> WaveformView:
    """A waveform of a probe with a circuit fault throughout."""
    x = np.linspace(0.0, 0.1, 500)
    lost = np.full(500, np.nan)
    marks = np.array([0.02, 0.04])
    waveform = ProbeWaveform("DE-X", Trace(x, lost), marks, np.full(2, np.nan), None)
    return waveform_view(waveform=waveform)


def scaled(path: OrbitPath, size: float) -> OrbitPath:
    """The path, `size` times as large."""
    return replace(
        path,
        x=size * path.x,
        y=size * path.y,
        marks_x=size * path.marks_x,
        marks_y=size * path.marks_y,
    )


def orbit_view(size: float = 1.0, **changes: object) -> OrbitView:
    """The drive-end orbit."""
    setup = changes.pop("setup", None) or fake.fake_setup()
    view = OrbitView(
        raw=scaled(fake.fake_orbit(True), size),
        filtered=scaled(fake.fake_orbit(False), size),
        plane=setup.plane[0],
        reading=fake.fake_plane_reading(0),
        setup=setup,
        probe_readings={name: fake.fake_reading(name, setup) for name in fake.NAMES},
    )
    return replace(view, **changes)


def void_orbit_view() -> OrbitView:
    """An orbit of which nothing is left."""
    lost = np.full(300, np.nan)
    none = np.full(3, np.nan)
    raw = OrbitPath("Drive end", lost, lost, none, none, True, None)
    return orbit_view(raw=raw, filtered=None)


def spectrum(size: float = 1.0, **choices: object) -> SpectrumResult:
    """The two-sided order spectrum."""
    result = fake.fake_spectrum(**choices)
    return replace(result, amplitude_um=size * result.amplitude_um)


def void_spectrum() -> SpectrumResult:
    """A spectrum without a number."""
    result = fake.fake_spectrum()
    return replace(result, amplitude_um=np.full(len(result.frequency), np.nan))


_SETUP = fake.fake_setup()


def timeline_view(size: float = 1.0, done_s: float | None = None) -> TimelineView:
    """The run-up and coast-down; one setup throughout, as in a session."""
    return TimelineView(fake.fake_timeline(done_s, size), _SETUP, "DE-X")


def void_timeline_view() -> TimelineView:
    """A timeline of a capture whose probe is lost and whose speed is not known."""
    result = fake.fake_timeline()
    lost = np.full(len(result.time_s), np.nan)
    conditions = {"DE-X": np.full(len(lost), -1, dtype=np.int8)}
    result = replace(result, speed_rpm=lost, peak_to_peak_um={"DE-X": lost}, condition=conditions)
    return TimelineView(result, _SETUP, "DE-X")

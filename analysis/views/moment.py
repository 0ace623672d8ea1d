"""The Moment page's request and its answer: one plane around one moment."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from analysis.jobs import SILENT, Progress
from analysis.model.capture import Capture, Channel
from analysis.model.response_results import Runout
from analysis.model.results import (
    Floats,
    OrbitPath,
    ProbeWaveform,
    RevolutionTable,
    SpanReadings,
    SpectrumResult,
)
from analysis.model.setup import Plane, Probe, Setup
from analysis.model.span import TimeSpan
from analysis.rotor.gap import gap_from_volts
from analysis.rotor.known_turns import known_around
from analysis.rotor.orbit import ellipse_path
from analysis.rotor.pair import pair_motion, probes_of
from analysis.rotor.response.runout import RunoutAt
from analysis.rotor.revolutions import fault_mask
from analysis.rotor.turns import BLOCK_S, Turns, find_turns, turns_around

from .moment_request import MomentRequest
from .moment_runout import RunoutOff
from .moment_spectrum import moment_spectrum
from .overview import CaptureOverview
from .readings import read_turns
from .time_window import automatic_window, window_around
from .waveforms import gap_trace

_PATH_POINTS = 180
_MOST_MARKS = 400
"""More once-per-turn marks than this would be a smear, and finding them a long read."""


@dataclass(frozen=True, eq=False)
class MomentResult:
    """The answer. `span` holds the whole revolutions read, `waveform_span` what waveforms show.

    `moment_offset_s` is the moment on the waveforms' own time, which starts at 0. `runout` is what
    has been taken off the orbits, by probe.
    """

    request: MomentRequest
    span: TimeSpan
    waveform_span: TimeSpan
    moment_offset_s: float
    readings: SpanReadings
    waveforms: Mapping[str, ProbeWaveform]
    orbit: OrbitPath | None
    filtered_orbit: OrbitPath | None
    spectrum: SpectrumResult | None
    notices: tuple[str, ...]
    runout: Mapping[str, Runout] = field(default_factory=dict)

    @property
    def waits_for_overview(self) -> bool:
        """Whether a waveform lacks a part that the overview will bring."""
        return any(waveform.known_s is not None for waveform in self.waveforms.values())


def answer_moment(
    capture: Capture,
    setup: Setup,
    request: MomentRequest,
    progress: Progress = SILENT,
    overview: CaptureOverview | None = None,
    turn_s: float | None = None,
    table: RevolutionTable | None = None,
) -> MomentResult:
    """Read the span around the moment and tell everything that the Moment page shows.

    `overview` is what there is of the capture's overview; long waveforms come from it. `turn_s` is
    a guess at the length of a turn, and `table` what a pass has found of the capture with this
    setup: they change nothing but how soon the answer comes.
    """
    moment = min(max(request.moment_s, capture.span.start_s), capture.span.end_s)
    count = max(round(2.0 * request.half_turns), 1)
    # One search for all that needs revolutions: the longest stretch first, the rest out of it.
    longest = max(count, request.spectrum.turns)
    known = None if table is None else known_around(table, moment, longest)
    if known is not None:
        around = known.turns
    else:
        around = turns_around(
            capture, setup, moment, longest, speed_rpm=request.speed_rpm, turn_s=turn_s
        )
    turns = around.nearest(moment, count)
    rows = known.rows_of(turns, request.orders) if known is not None else None
    span = _span_of(capture, turns, moment, count)
    progress.report(0.2, "reading the moment")
    readings = read_turns(capture, setup, span, turns, orders=request.orders, rows=rows)
    progress.report(0.5, "reading the moment")
    shown = _window(capture, span, moment, request)
    plane = _plane(setup, request.plane)
    pair = probes_of(capture, setup, plane) if plane else None
    turns_shown = _turns_shown(capture, setup, around, shown)
    marks = _marks(turns_shown, shown)
    off = RunoutOff()
    if request.runout and around.kind == "events" and len(around):
        off = RunoutOff(request.runout, around, turns_shown)
    waveforms = {
        probe.name: _waveform(
            capture, probe, shown, moment, marks, readings, request, overview, progress, off
        )
        for probe in _shown_probes(capture, setup, plane, request)
    }
    orbit = filtered = None
    if plane is not None and pair is not None and len(turns):
        orbit = _raw_orbit(capture, plane, pair, span, turns, readings, off)
        filtered = _filtered_orbit(setup, plane, pair, readings, request, off)
    progress.report(0.8, "spectrum")
    spectrum = moment_spectrum(capture, setup, moment, around, pair, request.spectrum)
    return MomentResult(
        request=request,
        span=span,
        waveform_span=shown,
        moment_offset_s=moment - shown.start_s,
        readings=readings,
        waveforms=waveforms,
        orbit=orbit,
        filtered_orbit=filtered,
        spectrum=spectrum,
        notices=readings.notices,
        runout=off.waves,
    )


def _span_of(capture: Capture, turns: Turns, moment: float, count: int) -> TimeSpan:
    if len(turns):
        return TimeSpan(float(turns.start_s[0]), float(turns.end_s[-1]))
    # A stopped shaft has no turns: what stands for them shows where it sits all the same.
    half = count * BLOCK_S / 2.0
    return TimeSpan(moment - half, moment + half).clipped_to(capture.span)


def _turns_shown(capture: Capture, setup: Setup, around: Turns, shown: TimeSpan) -> Turns | None:
    """The revolutions in the waveforms; `None` without events, or where they are too many."""
    if around.kind != "events" or len(around) == 0:
        return None
    turn_s = float(np.mean(around.end_s - around.start_s))
    if shown.length_s > _MOST_MARKS * turn_s:
        return None
    if around.start_s[0] > shown.start_s or around.end_s[-1] < shown.end_s:
        return find_turns(capture, setup, shown)
    return around


def _marks(turns: Turns | None, shown: TimeSpan) -> Floats:
    """Times of the once-per-turn marks in the waveforms, s of capture time."""
    if turns is None:
        return np.empty(0)
    edges = np.unique(np.concatenate([turns.start_s, turns.end_s]))
    marks: Floats = edges[(edges >= shown.start_s) & (edges <= shown.end_s)]
    return marks


def _window(capture: Capture, span: TimeSpan, moment: float, request: MomentRequest) -> TimeSpan:
    if request.waveform_s is None:
        return automatic_window(span, moment, capture.span)
    return window_around(moment, request.waveform_s, capture.span, request.waveform_place)


def _plane(setup: Setup, name: str | None) -> Plane | None:
    for plane in setup.plane:
        if name is None or plane.name == name:
            return plane
    return None


def _shown_probes(
    capture: Capture, setup: Setup, plane: Plane | None, request: MomentRequest
) -> list[Probe]:
    present = [p for p in setup.probe if p.channel in capture.channels]
    wanted = request.probes or (plane.probes if plane else tuple(p.name for p in present[:2]))
    return [p for name in wanted for p in present if p.name == name]


def _waveform(
    capture: Capture,
    probe: Probe,
    shown: TimeSpan,
    moment: float,
    marks: Floats,
    readings: SpanReadings,
    request: MomentRequest,
    overview: CaptureOverview | None,
    progress: Progress,
    off: RunoutOff,
) -> ProbeWaveform:
    runout = off.of_waveform(probe.name)
    trace, known_s = gap_trace(
        capture,
        probe,
        shown,
        request.columns,
        moment_s=moment,
        overview=overview,
        beyond=request.waveform_s is not None,
        progress=progress,
        runout=runout,
    )
    mean = readings.probes[probe.name].gap_um
    return ProbeWaveform(
        probe=probe.name,
        trace=trace,
        marks_s=marks - shown.start_s,
        marks_um=_gap_at(capture.channels[probe.channel], probe, marks, runout),
        mean_um=mean.value if mean else None,
        known_s=known_s,
        runout_um=None if runout is None else off.waves[probe.name].peak_to_peak_um,
    )


def _gap_at(channel: Channel, probe: Probe, times: Floats, runout: RunoutAt | None) -> Floats:
    """Gap between the samples to either side of each time; NaN where one is missing or at fault."""
    if len(times) == 0 or len(channel) == 0:
        return np.full(len(times), np.nan)
    around = TimeSpan(float(times[0]), float(times[-1])).widened(2.0 / channel.sample_rate_hz)
    sampled, volts = channel.volts_in(around)
    gap = gap_from_volts(volts, probe)
    gap[fault_mask(volts, probe)] = np.nan
    if runout is not None:
        gap = gap + runout(sampled)
    return _at(sampled, gap, times)


def _at(times: Floats, values: Floats, wanted: Floats) -> Floats:
    if len(times) == 0 or len(wanted) == 0:
        return np.full(len(wanted), np.nan)
    out: Floats = np.interp(wanted, times, values)
    return out


def _raw_orbit(
    capture: Capture,
    plane: Plane,
    pair: tuple[Probe, Probe],
    span: TimeSpan,
    turns: Turns,
    readings: SpanReadings,
    off: RunoutOff,
) -> OrbitPath:
    means = [readings.probes[probe.name].gap_um for probe in pair]
    about = (means[0].value, means[1].value) if means[0] and means[1] else None
    # An event lies between two samples: those to either side of the first one are wanted.
    edge = 1.5 / capture.channels[pair[0].channel].sample_rate_hz
    wide = span.widened(edge).clipped_to(capture.span)
    motion = pair_motion(capture, pair, wide, about, off.of_orbit(pair))
    inside = (motion.times_s >= span.start_s) & (motion.times_s <= span.end_s)
    # The end of the last turn belongs to the next one.
    marks = turns.start_s if turns.kind == "events" else np.empty(0)
    first_order = readings.planes[plane.name].orbits.get(1)
    return OrbitPath(
        plane=plane.name,
        x=motion.x_um[inside],
        y=motion.y_um[inside],
        marks_x=_at(motion.times_s, motion.x_um, marks),
        marks_y=_at(motion.times_s, motion.y_um, marks),
        raw=True,
        precession=first_order.precession if first_order else None,
    )


def _filtered_orbit(
    setup: Setup,
    plane: Plane,
    pair: tuple[Probe, Probe],
    readings: SpanReadings,
    request: MomentRequest,
    off: RunoutOff,
) -> OrbitPath | None:
    measured = readings.planes[plane.name].orbits
    orbits = off.ellipses(pair, readings.probes, measured, setup.machine.rotation)
    wanted = tuple(orbits[order] for order in request.orbit_orders if order in orbits)
    if not wanted:
        return None
    path = ellipse_path(wanted, setup.machine.rotation, _PATH_POINTS)
    marked = readings.speed.kind == "events"
    first_order = orbits.get(1)
    return OrbitPath(
        plane=plane.name,
        x=path.real,
        y=path.imag,
        marks_x=path.real[:1] if marked else np.empty(0),
        marks_y=path.imag[:1] if marked else np.empty(0),
        raw=False,
        precession=first_order.precession if first_order else None,
    )

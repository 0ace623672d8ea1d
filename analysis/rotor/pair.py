"""The two probes of a plane, sample by sample: shaft displacement in machine axes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from analysis.model.capture import Capture, Channel
from analysis.model.results import Floats, RevolutionTable
from analysis.model.setup import Plane, Probe, Setup
from analysis.model.span import TimeSpan
from analysis.signal.resample import between_samples

from .gap import gap_from_volts
from .orbit import s_max, shaft_displacement
from .revolutions import fault_mask

Off = Callable[[Floats], Floats]

_BLOCK_SAMPLES = 1 << 18


@dataclass(frozen=True, eq=False)
class PairMotion:
    """Displacement of the shaft from its mean over the span, µm, x right and y up; shapes (n,).

    NaN where either probe's circuit is at fault. Sampled at the times of the first probe.
    """

    times_s: Floats
    x_um: Floats
    y_um: Floats


def probes_of(capture: Capture, setup: Setup, plane: Plane) -> tuple[Probe, Probe] | None:
    """The plane's two probes, when the setup and the capture have both."""
    found = [p for name in plane.probes for p in setup.probe if p.name == name]
    found = [p for p in found if p.channel in capture.channels and p.angle_deg is not None]
    return (found[0], found[1]) if len(found) == 2 else None


def pair_motion(
    capture: Capture,
    probes: tuple[Probe, Probe],
    span: TimeSpan,
    about_um: tuple[float, float] | None = None,
    runout: tuple[Off | None, Off | None] = (None, None),
) -> PairMotion:
    """Motion of a plane over a span that both channels cover (the rest is left out).

    Args:
        capture: the capture.
        probes: the two probes.
        span: the span, s.
        about_um: gaps of the position that the motion is counted from; the mean over the span
            when not given.
        runout: what is to be taken off each probe's displacement, µm at given times; `None`:
            nothing.
    """
    first, second = probes
    channel1, channel2 = capture.channels[first.channel], capture.channels[second.channel]
    both = span.clipped_to(channel1.span).clipped_to(channel2.span)
    times, volts1 = channel1.volts_in(both)
    about = about_um or (None, None)
    s1 = _displacement(volts1, first, about[0])
    s2 = _at_times(channel2, second, both, times, about[1])
    s1, s2 = (s if off is None else s - off(times) for s, off in zip((s1, s2), runout, strict=True))
    assert first.angle_deg is not None
    assert second.angle_deg is not None
    x, y = shaft_displacement(s1, s2, first.angle_deg, second.angle_deg)
    bad = ~(np.isfinite(x) & np.isfinite(y))
    x[bad] = y[bad] = np.nan
    return PairMotion(times, x, y)


def _displacement(volts: Floats, probe: Probe, about_um: float | None) -> Floats:
    gap = gap_from_volts(volts, probe)
    gap[fault_mask(volts, probe)] = np.nan
    if about_um is None:
        healthy = gap[np.isfinite(gap)]
        about_um = float(healthy.mean()) if len(healthy) else 0.0
    s: Floats = about_um - gap
    return s


def _at_times(
    channel: Channel, probe: Probe, span: TimeSpan, times: Floats, about_um: float | None
) -> Floats:
    """Displacement towards a probe at the other probe's sample times."""
    start = max(channel.index_at_or_after(span.start_s) - 4, 0)
    stop = min(start + 8 + int(np.ceil(span.length_s * channel.sample_rate_hz)), len(channel))
    own_times = channel.times(start, stop)
    s = _displacement(channel.volts(start, stop), probe, about_um)
    tiny = 1e-6 / channel.sample_rate_hz
    skip = int(np.searchsorted(own_times, times[0] - tiny)) if len(times) else 0
    same = own_times[skip : skip + len(times)]
    if len(same) == len(times) and (np.abs(same - times) <= tiny).all():
        return s[skip : skip + len(times)]
    # Other rate or start.
    if len(s) < 4 or len(times) == 0:
        return np.full(len(times), np.nan)
    places = (times - own_times[0]) * channel.sample_rate_hz
    inside = (places >= 0.0) & (places <= len(s) - 1)
    out: Floats = np.full(len(times), np.nan)
    out[inside] = between_samples(s, places[inside])
    return out


def plane_s_max(capture: Capture, probes: tuple[Probe, Probe], table: RevolutionTable) -> Floats:
    """S max of each revolution of a table, µm, shape (r,); NaN where either probe is void."""
    first, second = (table.probes[p.name] for p in probes)
    assert probes[0].angle_deg is not None
    assert probes[1].angle_deg is not None
    out = np.full(len(table), np.nan)
    valid = np.isfinite(first.gap_um) & np.isfinite(second.gap_um)
    if not valid.any():
        return out
    about = float(first.gap_um[valid].mean()), float(second.gap_um[valid].mean())
    centre_x, centre_y = shaft_displacement(
        about[0] - first.gap_um, about[1] - second.gap_um, probes[0].angle_deg, probes[1].angle_deg
    )
    rate = capture.channels[probes[0].channel].sample_rate_hz
    row = 0
    while row < len(table):
        limit = table.start_s[row] + _BLOCK_SAMPLES / rate
        stop = max(int(np.searchsorted(table.end_s, limit, side="right")), row + 1)
        span = TimeSpan(float(table.start_s[row]), float(table.end_s[stop - 1]))
        motion = pair_motion(capture, probes, span, about)
        edges = np.append(table.start_s[row:stop], table.end_s[stop - 1])
        starts = np.searchsorted(motion.times_s, edges - 1e-6 / rate)
        rows = np.flatnonzero(np.diff(starts) > 0)
        if len(rows):
            whole = slice(int(starts[0]), int(starts[-1]))
            centre = centre_x[row + rows], centre_y[row + rows]
            out[row + rows] = s_max(
                motion.x_um[whole], motion.y_um[whole], starts[rows] - starts[0], centre
            )
        for each in (capture.channels[p.channel] for p in probes):
            done = each.index_at_or_after(span.start_s), each.index_at_or_after(span.end_s)
            each.release(*done)
        row = stop
    return out

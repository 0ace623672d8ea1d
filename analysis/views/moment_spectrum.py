"""The spectrum of the Moment page: what is wanted, and the answer."""

from __future__ import annotations

import numpy as np

from analysis.model.capture import Capture
from analysis.model.results import SpectrumResult
from analysis.model.setup import Probe, Setup
from analysis.model.span import TimeSpan
from analysis.rotor.gap import gap_from_volts
from analysis.rotor.order_spectrum import motion_spectrum
from analysis.rotor.pair import PairMotion, pair_motion
from analysis.rotor.revolutions import fault_mask
from analysis.rotor.turns import Turns

from .moment_request import SpectrumChoice


def moment_spectrum(
    capture: Capture,
    setup: Setup,
    moment: float,
    around: Turns,
    pair: tuple[Probe, Probe] | None,
    choice: SpectrumChoice,
) -> SpectrumResult | None:
    """The spectrum about a moment, over the revolutions nearest to it; `None` without any."""
    turns = _consecutive(around.nearest(moment, choice.turns), moment)
    if len(turns) == 0:
        return None
    span = TimeSpan(float(turns.start_s[0]), float(turns.end_s[-1]))
    clockwise = setup.machine.rotation == "cw"
    # A few samples beyond the ends, which the cubic between samples leans on.
    wide = span.widened(0.05 * span.length_s).clipped_to(capture.span)
    wide = wide if choice.axis == "orders" else span
    if choice.two_sided:
        if pair is None:
            return None
        motion: PairMotion = pair_motion(capture, pair, wide)
        times, values = motion.times_s, motion.x_um + 1j * motion.y_um
    else:
        probe = _one_probe(capture, setup, pair, choice.probe)
        if probe is None:
            return None
        times, volts = capture.channels[probe.channel].volts_in(wide)
        gap = gap_from_volts(volts, probe)
        gap[fault_mask(volts, probe)] = np.nan
        values = -gap
    return motion_spectrum(
        times,
        values,
        turns,
        axis=choice.axis,
        window_name=choice.window,
        scaling=choice.scaling,
        clockwise=clockwise,
    )


def _consecutive(turns: Turns, moment: float) -> Turns:
    """The run of revolutions without a gap that the moment lies in (or the nearest)."""
    if turns.kind != "events" or len(turns) == 0:
        return turns
    same = np.flatnonzero(np.diff(turns.piece) != 0) + 1
    if len(same) == 0:
        return turns
    runs = np.split(np.arange(len(turns)), same)
    middle = [(turns.start_s[r[0]] + turns.end_s[r[-1]]) / 2.0 for r in runs]
    return turns.at(runs[int(np.argmin(np.abs(np.array(middle) - moment)))])


def _one_probe(
    capture: Capture, setup: Setup, pair: tuple[Probe, Probe] | None, name: str | None
) -> Probe | None:
    present = [p for p in setup.probe if p.channel in capture.channels]
    if name is not None:
        present = [p for p in present if p.name == name] or present
    elif pair is not None:
        return pair[0]
    return present[0] if present else None

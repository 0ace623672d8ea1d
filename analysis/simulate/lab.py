"""The Lab's picture of a state: what the shaft does, what two probes see of it, and why.

Pure and quick enough for every frame of a drag. Everything is worked out on a grid of shaft angle
that starts at a phase-reference event; a capture made of the same state reads the same there.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from analysis.model.results import (
    Complexes,
    Ellipse,
    Floats,
    OrbitPath,
    ProbeWaveform,
    SpectrumResult,
    Trace,
)
from analysis.rotor.gap import gap_from_volts, volts_from_gap
from analysis.rotor.orbit import ellipse, shaft_displacement
from analysis.signal.spectrum import spectrum

from .constraint import constrained
from .lab_readings import LabReading, circles_of, ellipse_from, reading_of
from .lab_recipe import PLANE, lab_probes, true_curve
from .lab_state import LINEAR_RANGE_UM, LabState, Precession
from .loops import LoopStory, loop_story
from .noise import WhiteNoise
from .recipe_parts import Scratch
from .scratch import scratch_um

TURNS = 32
"""Turns that readings and spectrum are taken over."""
POINTS = 256
"""Points of a turn."""
_LEAST_SHOWN = 4
_MOST_SHOWN = 8


@dataclass(frozen=True, eq=False)
class LabResult:
    """What a state looks like. Lengths µm, x right and y up, about the mean position.

    `seen` is what the program makes of the probes with the setup it has, `shaft` what the shaft
    does in truth; waveforms are the gaps that the program reads, from θ = 0 on. `readings` (a
    probe's name each) are free of noise and over all `TURNS` turns, as measured readings are.
    `seen_ellipse` and `shaft_ellipse` are of 1X; `forward` in them runs with the rotation that the
    setup says, and with the true one.
    """

    state: LabState
    shown_turns: int
    seen: OrbitPath
    shaft: OrbitPath
    waveforms: Mapping[str, ProbeWaveform]
    spectrum: SpectrumResult
    seen_ellipse: Ellipse
    shaft_ellipse: Ellipse
    readings: Mapping[str, LabReading]
    loops: LoopStory
    notes: tuple[str, ...]

    def arrows(self, turns: float, *, seen: bool = True) -> tuple[complex, complex]:
        """Where the forward and the backward arrow of 1X point to at a shaft angle (turns), µm.

        `x + jy`, zero to peak; their sum lies on the ellipse.
        """
        of = self.seen_ellipse if seen else self.shaft_ellipse
        rotation = self.state.rotation_set if seen else self.state.rotation
        angle = 2.0 * math.pi * turns * (1.0 if rotation == "ccw" else -1.0)
        turned = complex(math.cos(angle), math.sin(angle))
        return of.forward * turned, of.backward * turned.conjugate()


def compose(state: LabState) -> LabResult:
    """Everything that the Lab shows of a state."""
    motion = shaft_motion(state)
    gaps = [_gap_read(state, channel, motion) for channel in (0, 1)]
    names = [probe.name for probe in state.probes]
    angles = [probe.angle_deg for probe in state.probes]
    readings = {
        name: reading_of(gap, TURNS, LINEAR_RANGE_UM) for name, gap in zip(names, gaps, strict=True)
    }
    if state.noise_um_rms:
        for gap, probe in zip(gaps, state.probes, strict=True):
            gap -= state.noise_um_rms * _noise(state.seed, probe.channel)
    s1, s2 = (readings[n].gap_um - gap for n, gap in zip(names, gaps, strict=True))
    x, y = shaft_displacement(s1, s2, angles[0], angles[1])
    vectors = [readings[name].vectors[1] for name in names]
    seen_ellipse = ellipse(1, vectors[0], vectors[1], angles[0], angles[1], state.rotation_set)
    shaft_ellipse = ellipse_from(*circles_of(motion, TURNS, state.sign))
    loops = loop_story(state.lines)
    shown = _shown_turns(loops.closes_after)
    return LabResult(
        state=state,
        shown_turns=shown,
        seen=_path(x, y, shown, seen_ellipse),
        shaft=_path(*_about_mean(motion), shown, shaft_ellipse),
        waveforms={
            name: _waveform(state, name, gap, readings[name].gap_um, shown)
            for name, gap in zip(names, gaps, strict=True)
        },
        spectrum=_spectrum(state, x + 1j * y),
        seen_ellipse=seen_ellipse,
        shaft_ellipse=shaft_ellipse,
        readings=readings,
        loops=loops,
        notes=_notes(state, readings),
    )


def _shown_turns(closes_after: int | None) -> int:
    """Whole closed figures, a few turns in all."""
    if closes_after is None or closes_after > _MOST_SHOWN:
        return _MOST_SHOWN
    return closes_after * math.ceil(_LEAST_SHOWN / closes_after)


def shaft_motion(state: LabState) -> Complexes:
    """What the shaft does over `TURNS` turns, µm about the free mean position.

    Shape (TURNS * POINTS + 1,); the last point is the first of the turn that follows.
    """
    lines = state.lines
    motion: Complexes = np.zeros(TURNS * POINTS + 1, dtype=np.complex128)
    # A ratio that is being dragged changes every time: it goes by itself, the rest stays cached.
    for part in (
        tuple(line for line in lines if line is not state.whirl),
        tuple(line for line in lines if line is state.whirl),
    ):
        if part:
            shares = np.array([_shares(line, state.sign) for line in part]).reshape(-1, 2).T
            x, y = shares @ _rows(tuple(line.order for line in part))
            motion.real += x
            motion.imag += y
    return constrained(motion, state.preload, state.stop, state.sign)


def _shares(line: Precession, sign: float) -> list[tuple[float, float]]:
    """Shares of `cos nθ` and `sin nθ` in x and y: rows for the cosine and for the sine."""
    with_rotation = _circle(line.forward_um_pp, line.forward_at_deg)
    against = _circle(line.backward_um_pp, line.backward_at_deg)
    cosine = with_rotation + against
    sine = 1j * sign * (with_rotation - against)
    return [(cosine.real, cosine.imag), (sine.real, sine.imag)]


def _circle(um_pp: float, at_deg: float) -> complex:
    angle = math.radians(at_deg)
    return um_pp / 2.0 * complex(math.cos(angle), math.sin(angle))


@lru_cache(maxsize=8)
def _rows(orders: tuple[float, ...]) -> Floats:
    """`cos nθ` and `sin nθ` of each order, shape (2 * orders, TURNS * POINTS + 1)."""
    cycles = np.outer(orders, np.arange(TURNS * POINTS + 1) / POINTS)
    angle = (cycles - np.floor(cycles)) * (2.0 * np.pi)
    rows = np.stack([np.cos(angle), np.sin(angle)], axis=1).reshape(-1, angle.shape[1])
    rows.setflags(write=False)
    return rows


@lru_cache(maxsize=8)
def _noise(seed: int, stream: str) -> Floats:
    noise = WhiteNoise(seed, stream).read(0, TURNS * POINTS + 1)
    noise.setflags(write=False)
    return noise


@lru_cache(maxsize=8)
def _scratch(lag_deg: float, width_deg: float) -> Floats:
    """A scratch of unit depth over one turn and all the others."""
    turns = np.arange(POINTS) / POINTS
    once = scratch_um(Scratch(lag_deg=lag_deg, depth_um=1.0, width_deg=width_deg), turns)
    return np.append(np.tile(once, TURNS), once[0])


def _gap_read(state: LabState, channel: int, motion: Complexes) -> Floats:
    """The gap that the program reads on a channel, without noise; a new array."""
    angle = math.radians(state.seen_from_deg[channel])
    towards_x, towards_y = math.sin(angle), math.cos(angle)
    gap = state.true_rest_gaps_um[channel] - towards_x * motion.real - towards_y * motion.imag
    surface = state.surface
    if surface.um_pp:
        lag = math.radians(state.lag_of(channel, surface.at_deg))
        once = np.array([math.cos(lag), math.sin(lag)]) @ _rows((1.0,))
        gap -= (surface.um_pp / 2.0) * once
    if surface.scratch_depth_um:
        lag_deg = state.lag_of(channel, surface.scratch_at_deg)
        gap += surface.scratch_depth_um * _scratch(lag_deg, surface.scratch_width_deg)
    low, high = LINEAR_RANGE_UM
    if gap.min() < low or gap.max() > high:
        as_set = lab_probes(state)[channel]
        in_truth = as_set.model_copy(update={"calibration": true_curve()})
        gap = gap_from_volts(volts_from_gap(gap, in_truth), as_set)
    return gap


def _about_mean(motion: Complexes) -> tuple[Floats, Floats]:
    mean = motion[:-1].mean()
    return motion.real - mean.real, motion.imag - mean.imag


def _path(x: Floats, y: Floats, shown: int, first_order: Ellipse) -> OrbitPath:
    stop = shown * POINTS + 1
    return OrbitPath(
        plane=PLANE,
        x=x[:stop],
        y=y[:stop],
        marks_x=x[: stop - 1 : POINTS],
        marks_y=y[: stop - 1 : POINTS],
        raw=True,
        precession=first_order.precession,
    )


def _waveform(state: LabState, name: str, gap: Floats, mean_um: float, shown: int) -> ProbeWaveform:
    turn_s = 60.0 / state.speed_rpm
    stop = shown * POINTS + 1
    times = np.arange(stop, dtype=np.float64) * (turn_s / POINTS)
    return ProbeWaveform(
        probe=name,
        trace=Trace(times, gap[:stop]),
        marks_s=times[::POINTS],
        marks_um=gap[:stop:POINTS],
        mean_um=mean_um,
    )


def _spectrum(state: LabState, motion: Complexes) -> SpectrumResult:
    """Two-sided, positive along the rotation that the setup says; p-p, Hann, against orders."""
    whole = motion[:-1]
    if state.rotation_set == "cw":
        whole = whole.conj()
    return spectrum(whole, float(POINTS), window_name="hann", scaling="p-p", axis="orders")


def _notes(state: LabState, readings: Mapping[str, LabReading]) -> tuple[str, ...]:
    notes = []
    if state.swapped:
        notes.append(
            "The cables are swapped: the orbit is seen in a mirror, and forward looks backward."
        )
    if state.rotation_wrong:
        notes.append(
            "The setup has the wrong rotation: the orbit is right, forward and backward change "
            "names."
        )
    if state.lines and (state.preload is not None or state.stop is not None):
        notes.append(
            "The preload or the stop shapes the orbit further: the loops are told of the free "
            "motion."
        )
    for name, reading in readings.items():
        if reading.margin_um < 0.0:
            notes.append(
                f"{name} leaves its linear range: it shows less motion than there is, and a "
                f"gap that is off."
            )
    return tuple(notes)

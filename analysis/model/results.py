"""Results: what the pure functions of `analysis` answer with. Frozen; absent is `None` or NaN.

Lengths are µm, voltages V, speeds r/min, angles degrees. A **vector** of order n is the complex
number `A exp(-jφ)` with `A` in µm p-p and `φ` the phase lag, so that `s ≈ Re[vector/2 · exp(jnθ)]`
(contract, section 1).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from .span import TimeSpan

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]
Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]

TurnKind = Literal["events", "speed", "blocks"]
"""What a row of a revolution table is: a turn between phase-reference events, a turn at a speed
that the user gave, or a block of 0.1 s that stands for one (contract, section 5)."""


@dataclass(frozen=True, eq=False)
class ProbeRevolutions:
    """One probe, one value a revolution; every array has one element a revolution.

    A revolution with a circuit fault has `fault` set and NaN in every measure. `vectors` is empty
    where the shaft angle is not known (blocks).
    """

    gap_v: Floats
    gap_um: Floats
    min_um: Floats
    max_um: Floats
    vectors: Mapping[int, Complexes]
    samples: Ints
    fault: Bools

    @property
    def peak_to_peak_um(self) -> Floats:
        """Unfiltered p-p, µm."""
        return self.max_um - self.min_um


@dataclass(frozen=True, eq=False)
class RevolutionTable:
    """Every whole revolution of a span. `start_s`, `end_s`, `speed_rpm` have one element each.

    `repaired` marks revolutions with an end that was not an event of the signal (a missing pulse
    put in). `speed_rpm` is NaN in blocks. `notices` are sentences that belong beside the numbers.
    """

    kind: TurnKind
    start_s: Floats
    end_s: Floats
    speed_rpm: Floats
    repaired: Bools
    probes: Mapping[str, ProbeRevolutions]
    notices: tuple[str, ...] = ()

    def __len__(self) -> int:
        return len(self.start_s)


@dataclass(frozen=True)
class Reading:
    """A mean over the revolutions of a span, with its scatter (standard deviation) over them.

    `scatter` is `None` with fewer than two revolutions.
    """

    value: float
    scatter: float | None = None


@dataclass(frozen=True)
class VectorReading:
    """Synchronous average of an nX vector. `phase_lag_deg` is `None` without a phase reference."""

    order: int
    vector: complex
    amplitude: Reading
    phase_lag_deg: Reading | None


@dataclass(frozen=True)
class LinearRangeReading:
    """The instantaneous gap over the span, against the probe's linear range.

    `margin_um` is the smallest distance to the nearer end, negative outside; it and
    `outside_fraction` are `None` when the setup gives no linear range.
    """

    min_um: float
    max_um: float
    margin_um: float | None
    outside_fraction: float | None


LimitCondition = Literal["normal", "alarm", "trip", "fault", "unknown"]
"""An instant state, without delay and latch; `fault` of the circuit, `unknown` when not judged."""


@dataclass(frozen=True)
class LimitReading:
    """One limit of the setup at this instant: `index` is its place in `setup.limit`.

    `value_um` is the measure of the probe nearest to (or furthest beyond) its limit, `above_um` and
    `below_um` the settings in force with the multiplier put in; `met` tells whether the
    condition holds (with votes); it is `None` when there is nothing to judge.
    """

    index: int
    probe: str
    value_um: float | None
    above_um: float | None
    below_um: float | None
    met: bool | None


@dataclass(frozen=True)
class ProbeReading:
    """All readings of one probe over a span; `None` where nothing can be known.

    `fault_fraction` is the share of samples of the span that are NaN or outside `fault_v`;
    `circuit_fault` is true when there is any. `outputs_ma` has one entry a measure of the setup's
    `[[output]]` tables. `limits` holds one entry a limit that looks at the probe.
    """

    name: str
    gap_v: Reading | None
    gap_um: Reading | None
    peak_to_peak_um: Reading | None
    peak_to_peak_max_um: float | None
    vectors: Mapping[int, VectorReading]
    linear_range: LinearRangeReading | None
    outputs_ma: Mapping[str, float | None]
    circuit_fault: bool
    fault_fraction: float
    condition: LimitCondition
    limits: tuple[LimitReading, ...]
    zone: str | None = None
    """Evaluation zone A to D of the p-p value, when the setup has `[severity_zones]`."""


@dataclass(frozen=True)
class Ellipse:
    """Orbit of one order, from its forward and backward complex amplitudes (µm, zero to peak).

    With `d = x + jy`: for rotation `"ccw"`, `d = forward·exp(jnθ) + backward·exp(-jnθ)`; for `"cw"`
    the two change places, so that forward always runs with the rotation. `major_um`, `minor_um`
    are p-p; `inclination_deg` is counter-clockwise from +x, 0 to 180.
    """

    order: int
    forward: complex
    backward: complex
    major_um: float
    minor_um: float
    inclination_deg: float
    precession: Literal["forward", "backward"]


@dataclass(frozen=True)
class Centreline:
    """Mean shaft position. With `clearance_um`: from the bearing centre, else from rest.

    `attitude_deg` is measured from the direction of rest towards the rotation.
    """

    x_um: float
    y_um: float
    eccentricity_ratio: float | None
    attitude_deg: float | None


@dataclass(frozen=True)
class PlaneReading:
    """Readings of two probes that see the same shaft section."""

    name: str
    s_max_um: float | None
    orbits: Mapping[int, Ellipse]
    centreline: Centreline | None


@dataclass(frozen=True)
class SpeedReading:
    """Speed over the whole revolutions of a span, r/min; `None` in blocks without a speed."""

    mean_rpm: float | None
    min_rpm: float | None
    max_rpm: float | None
    revolutions: int
    kind: TurnKind


@dataclass(frozen=True)
class SpanReadings:
    """Everything `measure` tells of a span."""

    span: TimeSpan
    speed: SpeedReading
    probes: Mapping[str, ProbeReading]
    planes: Mapping[str, PlaneReading]
    notices: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class Trace:
    """A waveform ready to draw: at most two points a pixel column when `envelope` is true.

    `x` and `y` have the same length; NaN in `y` is a gap in the line.
    """

    x: Floats
    y: Floats
    envelope: bool = False


@dataclass(frozen=True, eq=False)
class ProbeWaveform:
    """Gap waveform of one probe around the moment.

    `trace.x` is seconds from the start of the span shown, `trace.y` µm of gap. `marks_s` (same
    origin) and `marks_um` are the once-per-turn marks on it. `mean_um` is the mean gap that p-p
    limits are drawn about. `known_s` is the part of the span shown (same origin) that has been
    read so far; `None`: all of it. `runout_um` is the p-p of the
    runout that has been taken off, `None` for none.
    """

    probe: str
    trace: Trace
    marks_s: Floats
    marks_um: Floats
    mean_um: float | None
    known_s: tuple[float, float] | None = None
    runout_um: float | None = None


@dataclass(frozen=True, eq=False)
class OrbitPath:
    """Shaft motion of one plane about its mean position, µm, x right and y up.

    `marks_x`, `marks_y` are the once-per-turn marks; `raw` tells an unfiltered path from one built
    from orders. `precession` is of the 1X ellipse, `None` when it is not known.
    """

    plane: str
    x: Floats
    y: Floats
    marks_x: Floats
    marks_y: Floats
    raw: bool
    precession: Literal["forward", "backward"] | None


@dataclass(frozen=True, eq=False)
class SpectrumResult:
    """A spectrum. `frequency` is Hz or orders; negative values run backward (two-sided).

    `amplitude_um` follows `scaling`. `resolution` is the spacing of the lines, `enbw` the window's
    equivalent noise bandwidth in lines.
    """

    frequency: Floats
    amplitude_um: Floats
    axis: Literal["hz", "orders"]
    two_sided: bool
    scaling: Literal["p-p", "peak", "rms"]
    window: str
    resolution: float
    enbw: float

    @cached_property
    def median_um(self) -> float:
        """Median of the finite lines, µm; NaN where there are none."""
        finite = self.amplitude_um[np.isfinite(self.amplitude_um)]
        if len(finite) == 0:
            return math.nan
        # By hand: np.median looks for NaN once more and takes several times as long.
        low, high = (len(finite) - 1) // 2, len(finite) // 2
        sorted_there = np.partition(finite, (low, high))
        return float(sorted_there[low] + sorted_there[high]) / 2.0

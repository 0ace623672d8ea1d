"""Results of a passage through speeds. Frozen; absent is `None`, an empty tuple or NaN.

Vectors are `A exp(-jφ)`, A µm p-p, φ the phase lag. Speeds are r/min, sweep rates r/min a second.
Whatever is doubtful carries a `Doubt`: a flag for programs and a sentence for people.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np

from .results import Bools, Complexes, Floats, Ints

Direction = Literal["up", "down", "unknown"]
SlowRollSource = Literal["proposed", "asked", "typed"]


@dataclass(frozen=True)
class Doubt:
    """One thing that makes a figure less sure: `flag` a short name, `sentence` what to read."""

    flag: str
    sentence: str


@dataclass(frozen=True, eq=False)
class ResponsePoints:
    """Measured vectors of one order of one probe (or direction), in the order they were measured.

    `time_s` is NaN throughout where the times are not known. `consecutive` tells whether each point
    is the revolution after the one before, so that speeds may be smoothed along them.
    """

    order: int
    time_s: Floats
    speed_rpm: Floats
    vectors: Complexes
    consecutive: bool = False


@dataclass(frozen=True)
class SlowRoll:
    """The vector that is taken off. `speed_rpm` is `None` for a typed one without a speed.

    `scatter_um` is the standard deviation of its revolutions along and across it together, µm p-p.
    """

    order: int
    vector: complex
    speed_rpm: float | None
    source: SlowRollSource
    revolutions: int
    scatter_um: float | None
    doubts: tuple[Doubt, ...] = ()


@dataclass(frozen=True, eq=False)
class Passage:
    """A stretch in which the speed runs one way. `rows` are places in the points it was found in.

    `rate` is the mean sweep rate, r/min a second, positive upwards; `None` without times.
    """

    direction: Direction
    rows: Ints
    from_rpm: float
    to_rpm: float
    from_s: float | None
    to_s: float | None
    rate: float | None


@dataclass(frozen=True)
class SweepEffect:
    """What the sweep rate does to a peak, by the linear model of one mode (see `sweep`).

    The speed of the peak lies `shift_percent` off, and its amplitude is `lowering_percent` lower,
    than in a sweep without haste; `slow_speed_rpm` and `slow_factor` are what that would show.
    """

    rate: float
    shift_percent: float
    lowering_percent: float
    slow_speed_rpm: float
    slow_factor: float


@dataclass(frozen=True)
class CriticalSpeed:
    """A peak of compensated 1X with a phase change through it (contract, section 5).

    `half_power_rpm` holds `None` where the curve does not fall to 0.707 of the peak on that side;
    there is no amplification factor then. `phase_slope_factor` is `(N/2)·dφ/dN` at its steepest
    within the peak, which is 1/(2ζ) for one mode. `separation_margin_percent` is negative inside
    the operating range. `sd_um`: what
    the noise of the points leaves in the amplitude, standard deviation.
    """

    speed_rpm: float
    amplitude_um_pp: float
    phase_lag_deg: float
    half_power_rpm: tuple[float | None, float | None]
    amplification_factor: float | None
    phase_slope_factor: float | None
    phase_change_deg: float
    separation_margin_percent: float | None
    required_margin_percent: float | None
    direction: Direction
    time_s: float | None
    rate: float | None
    sweep: SweepEffect | None
    sd_um: float
    points_in_peak: int
    doubts: tuple[Doubt, ...] = ()


@dataclass(frozen=True)
class NotCounted:
    """A rise of the curve that is not called a critical speed, and why."""

    speed_rpm: float
    amplitude_um_pp: float
    direction: Direction
    doubt: Doubt


@dataclass(frozen=True, eq=False)
class PassageResponse:
    """One passage: its smooth curve and what stands in it. `curve_*` is empty with too few points.

    `curve_sd_um` is what the noise of the points leaves in the curve.
    """

    passage: Passage
    curve_rpm: Floats
    curve_vectors: Complexes
    curve_sd_um: Floats
    noise_um: float | None
    criticals: tuple[CriticalSpeed, ...]
    not_counted: tuple[NotCounted, ...]
    notices: tuple[Doubt, ...] = ()


@dataclass(frozen=True, eq=False)
class Response:
    """1X of one probe, or of one direction of a plane, over all its passages.

    `criticals` has each critical speed once: of all passages through it the one with the fewest
    doubts. `raw` and `compensated` hold the points. `smoothed` is the same found on vectors that
    were averaged over `smoothing_turns` turns.
    """

    name: str
    raw: ResponsePoints
    compensated: ResponsePoints
    slow_roll: SlowRoll | None
    passages: tuple[PassageResponse, ...]
    criticals: tuple[CriticalSpeed, ...]
    smoothed: tuple[CriticalSpeed, ...]
    smoothing_turns: int
    notices: tuple[Doubt, ...] = ()


@dataclass(frozen=True, eq=False)
class PlaneResponse:
    """The two principal directions of a plane; `None` where they cannot be told (see `notices`).

    `axis_deg` is the direction of `first`, counter-clockwise from +x, 0 to 180; `second` is at
    right angles to it. `split` tells whether their critical speeds differ by more than their doubt.
    """

    name: str
    axis_deg: float | None
    first: Response | None
    second: Response | None
    split: bool
    notices: tuple[Doubt, ...] = ()


@dataclass(frozen=True, eq=False)
class ResponseResult:
    """Everything that `response` tells of a capture or table."""

    source: str
    operating_rpm: tuple[float, float] | None
    probes: Mapping[str, Response]
    planes: Mapping[str, PlaneResponse]
    notices: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class Runout:
    """What a probe shows of the turning shaft itself, over the shaft angle.

    `wave_um` is displacement towards the probe, µm about its mean; step k of m is the mean from
    k/m to (k + 1)/m of a turn after the event. `speed_rpm` and `revolutions` tell of the slow roll
    that it was measured at; a kept one is made of the orders that the setup keeps.
    """

    wave_um: Floats
    source: Literal["measured", "kept"]
    speed_rpm: float | None = None
    revolutions: int | None = None

    @property
    def peak_to_peak_um(self) -> float:
        """µm p-p of the whole wave."""
        return float(np.ptp(self.wave_um))


@dataclass(frozen=True, eq=False)
class ResponseTable:
    """A table of vectors against speed, as `revolutions` writes it; rows in the order of the file.

    `time_s` is NaN throughout where the table has no times. `vectors` is by probe and order; NaN
    where a field is empty.
    """

    name: str
    time_s: Floats
    speed_rpm: Floats
    vectors: Mapping[str, Mapping[int, Complexes]]
    notices: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class Cascade:
    """Spectra one above the other. `amplitude_um` has shape (rows, lines), NaN where not known.

    `frequency` is in orders or Hz, negative values backward when `two_sided`. Each row is taken
    about `time_s`, at the mean speed `speed_rpm`, over `turns` revolutions or `seconds`.
    """

    frequency: Floats
    amplitude_um: Floats
    time_s: Floats
    speed_rpm: Floats
    axis: Literal["orders", "hz"]
    against: Literal["speed", "time"]
    two_sided: bool
    scaling: Literal["p-p", "peak", "rms"]
    window: str
    turns: int | None
    seconds: float | None
    notices: tuple[str, ...] = ()


@dataclass(frozen=True)
class NonSynchronous:
    """A component that is no whole order of speed, as measured.

    `frequency_hz` and `order` are means weighed by power, positive; `precession` is `None` where
    one probe alone was looked at. `amplitude_um` is the largest, in the scaling of the spectra;
    `against_um` is what turns the other way at the same frequency (a circle has none of it).
    `frequency_spread_hz` and `order_spread` tell whether it kept its frequency or its order while
    the speed went from `speed_rpm[0]` to `speed_rpm[1]`.
    """

    frequency_hz: float
    order: float
    precession: Literal["forward", "backward"] | None
    amplitude_um: float
    against_um: float | None
    from_s: float
    to_s: float
    speed_rpm: tuple[float, float]
    frequency_spread_hz: float
    order_spread: float
    rows: int

    @property
    def words(self) -> str:
        """What was measured, in words, such as "forward, 0.46 of speed"."""
        order = f"{self.order:.2f} of speed"
        return f"{self.precession}, {order}" if self.precession else order


@dataclass(frozen=True, eq=False)
class Overlay:
    """Two runs over the speeds that both have; arrays of one shape, `difference` second less first.

    `limit_um` is what a change must pass to be significant, NaN where it is not known.
    `largest_operating`: speed, size (µm p-p) and whether it is significant, of the change within
    the operating range that comes nearest to its limit.
    """

    speed_rpm: Floats
    first: Complexes
    second: Complexes
    difference: Complexes
    limit_um: Floats
    significant: Bools
    directions: tuple[Direction, Direction]
    largest_operating: tuple[float, float, bool | None] | None
    doubts: tuple[Doubt, ...] = ()

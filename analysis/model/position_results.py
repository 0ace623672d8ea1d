"""Results of the Position page: where a shaft sits, and what its probes can still see of it.

Lengths are µm, voltages V, times s of capture time. The **near** end of a linear range is its
smallest gap, the **far** end its largest. Absent is `None`, or NaN in arrays.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from .results import Centreline, Floats
from .setup import Level, Rest
from .span import TimeSpan

RangeEnd = Literal["near", "far"]

ClipCause = Literal["converter", "fault_limit", "flattened"]
"""`converter`: samples at the end of what their type can hold; `fault_limit`: peaks beyond
`fault_v`, which voids their turns; `flattened`: crests cut level, as by a driver that can go no
further."""

Severity = Literal["severe", "warning", "note", "in_order"]


@dataclass(frozen=True)
class OutsideStretch:
    """Turns one after the other in which the gap went out of the linear range.

    `beyond_um` is how far at most, at `worst_s`. `turns` counts those that were outside; short
    returns between them belong to the stretch. `mean_outside`: the mean gap was outside, too.
    """

    span: TimeSpan
    end: RangeEnd
    turns: int
    beyond_um: float
    worst_s: float
    mean_outside: bool


@dataclass(frozen=True)
class RangeUse:
    """The gap of one probe against its linear range, over some revolutions.

    `mean_um` is the mean of the revolutions' means, `min_um` and `max_um` the instantaneous
    extremes. Margins are negative outside; `*_share` is the margin by the length of the range.
    `outside_turns` had a sample outside, and took `outside_s` together; `outside_fraction` is the
    share of all samples that were, `fraction_from` the share of the turns outside that it was
    counted in (1: all).
    """

    span: TimeSpan
    turns: int
    void_turns: int
    mean_um: float
    min_um: float
    max_um: float
    min_at_s: float
    max_at_s: float
    peak_to_peak_um: float
    peak_to_peak_max_um: float
    near_margin_um: float | None = None
    far_margin_um: float | None = None
    near_share: float | None = None
    far_share: float | None = None
    outside_turns: int = 0
    outside_s: float = 0.0
    outside_fraction: float | None = None
    fraction_from: float | None = None
    stretches: tuple[OutsideStretch, ...] = ()

    @property
    def margin_um(self) -> float | None:
        """Margin to the nearer end, µm; negative outside (contract, section 5)."""
        if self.near_margin_um is None or self.far_margin_um is None:
            return None
        return min(self.near_margin_um, self.far_margin_um)

    @property
    def nearer_end(self) -> RangeEnd | None:
        """The end with the smaller margin."""
        if self.near_margin_um is None or self.far_margin_um is None:
            return None
        return "near" if self.near_margin_um < self.far_margin_um else "far"


@dataclass(frozen=True)
class Forecast:
    """What is left before an end of the linear range cuts the waveform.

    With the waveform as it is the mean gap may rise by `rise_um` and fall by `fall_um`; negative
    is how far it must come back. At this mean gap, with this shape, the waveform meets `cut_end`
    at `cut_peak_to_peak_um` (`None` where the mean itself is outside). `beyond_cut` are the p-p
    limits above that, (level, µm p-p): the probe cannot show their values straight.
    `centred_um` is the mean gap at which both ends have the same room.
    """

    rise_um: float
    fall_um: float
    cut_end: RangeEnd
    cut_peak_to_peak_um: float | None
    beyond_cut: tuple[tuple[Level, float], ...]
    centred_um: float


@dataclass(frozen=True)
class Clip:
    """A waveform that is cut at a level.

    `crests` were seen cut and `share` of the samples looked at lie there. `turns`, `first_s` and
    `seconds` are of the whole capture, from its revolution table: turns with an extreme at the
    level (or void, for a fault limit); `None` where only a moment was looked at.
    """

    end: RangeEnd
    cause: ClipCause
    level_v: float
    level_um: float
    tolerance_v: float
    crests: int
    share: float
    turns: int | None = None
    first_s: float | None = None
    seconds: float | None = None


@dataclass(frozen=True)
class HiddenPeak:
    """What the trusted part of a waveform says its p-p would have been without loss, µm.

    An estimate with its standard deviation: orders of the shaft fitted to the samples inside the
    linear range and off every cut, and followed through the rest. It leans on the trusted part: a
    probe that flattens before the end of its range makes it too small.
    """

    span: TimeSpan
    read_um: float
    estimated_um: float
    deviation_um: float
    trusted_share: float

    @property
    def lost_um(self) -> float:
        """How much less was read than there was, µm."""
        return self.estimated_um - self.read_um

    @property
    def is_clear(self) -> bool:
        """Whether the loss stands out of its own uncertainty, three standard deviations."""
        return self.lost_um > 3.0 * self.deviation_um


@dataclass(frozen=True, eq=False)
class WorkingPoint:
    """Mean gap on the calibration curve, and what the curve's slope there does to p-p.

    Factors are mV/µm: `local` at the mean gap, `swept` between the extremes of the waveform,
    `average` the one that a straight line reads with. `straight_um` is the p-p that a reader with
    the average factor shows, `effect_percent` how much more (or less) that is. Without a table
    all three are the setup's factor and `from_table` is false. The curve is `curve_um`, `curve_v`.
    """

    gap_um: float
    gap_v: float
    local_mv_per_um: float
    swept_mv_per_um: float
    average_mv_per_um: float
    peak_to_peak_um: float
    straight_um: float
    effect_percent: float
    from_table: bool
    curve_um: Floats
    curve_v: Floats


@dataclass(frozen=True)
class LoopLimit:
    """A limit of the setup on one of a probe's channels; `on_scale`: the loop can carry it."""

    level: Level
    side: Literal["above", "below"]
    value_um: float
    on_scale: bool


@dataclass(frozen=True)
class LoopReading:
    """One gap signal as one channel: value, full scale and current.

    `range_um` are the values at 4 and 20 mA and `range_from` where they come from; `percent` is
    the value's place on it, not held; `current_ma` is held as the contract says, `saturated` the
    end that holds it, `volts` what it makes across `resistance_ohm`.
    """

    measure: Literal["position", "peak_to_peak"]
    value_um: float | None
    range_um: tuple[float, float] | None
    range_from: str
    limits: tuple[LoopLimit, ...]
    percent: float | None
    current_ma: float | None
    volts: float | None
    resistance_ohm: float
    saturated: Literal["low", "high"] | None
    fault: bool


@dataclass(frozen=True)
class PositionMark:
    """A position limit on the gap scale."""

    level: Level
    side: Literal["above", "below"]
    gap_um: float


@dataclass(frozen=True, eq=False)
class ProbePosition:
    """Everything about one probe's place on its range.

    `stops_um` are the gaps at which the circuit reports a fault or the converter ends, whichever
    comes first: nothing is seen beyond. `moment_clips` and `moment_hidden` are of the samples
    around the moment, `clips` and `hidden` of the whole capture (hidden: of its worst turns).
    """

    name: str
    kind: Literal["radial", "axial"]
    linear_range_um: tuple[float, float] | None
    stops_um: tuple[float | None, float | None]
    marks: tuple[PositionMark, ...]
    moment: RangeUse | None
    chosen: RangeUse | None
    capture: RangeUse | None
    forecast: Forecast | None
    working_point: WorkingPoint | None
    moment_clips: tuple[Clip, ...]
    clips: tuple[Clip, ...]
    moment_hidden: HiddenPeak | None
    hidden: HiddenPeak | None
    loops: tuple[LoopReading, LoopReading]


RestSource = Literal["setup", "slowest turns"]


@dataclass(frozen=True)
class RestPosition:
    """Gaps of a plane's two probes with the shaft at rest, and how far to believe them.

    From the setup, or (`assumed`) from the slowest turns of the capture, at `speed_rpm`.
    """

    gaps_um: tuple[float, float]
    source: RestSource
    speed_rpm: float | None = None

    @property
    def assumed(self) -> bool:
        """Whether nobody measured the shaft at rest."""
        return self.source != "setup"


@dataclass(frozen=True, eq=False)
class CentrelinePath:
    """Mean shaft position of each revolution; arrays of shape (r,), NaN where void.

    Conventions as in `Centreline`; ratio and attitude are NaN throughout where it has `None`.
    """

    time_s: Floats
    speed_rpm: Floats
    x_um: Floats
    y_um: Floats
    eccentricity_ratio: Floats
    attitude_deg: Floats


@dataclass(frozen=True, eq=False)
class PlanePosition:
    """The shaft in one plane. `direction_assumed`: the setup does not say where the shaft rests.

    `outside_turns` lie outside the clearance circle, which no shaft can. `missing` says why there
    is no path.
    """

    name: str
    probes: tuple[str, str]
    clearance_um: float | None
    rest_towards: Rest
    rest: RestPosition | None
    direction_assumed: bool
    path: CentrelinePath | None
    moment: Centreline | None
    outside_turns: int
    missing: str


@dataclass(frozen=True, eq=False)
class ThrustPair:
    """Two axial probes on one collar; positions µm from rest, positive towards the probes.

    `facing` tells whether both look the same way: found from how they move together, else taken
    for granted (`facing_found` false). Positions of the second are then counted the first's way.
    `from_rest` false: no rest gap in the setup, positions count from the capture's mean.
    `travel_um` is how far the mean of the two went in the capture: the float that was seen, which
    may be less than there is. `difference_um` is the largest difference, at `difference_at_s`.
    `window_um` are the innermost trip limits on position, counted the same way. `origins_um` are
    the gaps that positions count from.
    """

    probes: tuple[str, str]
    time_s: Floats
    speed_rpm: Floats
    position_um: tuple[Floats, Floats]
    moment_um: tuple[float | None, float | None]
    facing: Literal["same", "opposite"]
    facing_found: bool
    from_rest: bool
    travel_um: tuple[float, float] | None
    difference_um: float | None
    difference_at_s: float | None
    tolerance_um: float
    agree: bool | None
    window_um: tuple[float | None, float | None]
    origins_um: tuple[float | None, float | None]


@dataclass(frozen=True)
class Station:
    """A place along the train. `along` is 0 to 1 in the setup's order: no lengths are known."""

    name: str
    kind: Literal["radial", "thrust"]
    along: float


@dataclass(frozen=True)
class Finding:
    """One thing that a reader should know: a sentence, and the numbers in it by name.

    `topic` is a stable word: `"fault"`, `"clipping"`, `"outside"`, `"hidden"`, `"forecast"`,
    `"cut_before_limit"`, `"slope"`, `"margin"`, `"clearance"`, `"rest"`, `"thrust"`, `"loop"`.
    `subject` is the probe, plane or pair that it is about.
    """

    severity: Severity
    topic: str
    subject: str
    sentence: str
    numbers: Mapping[str, float]

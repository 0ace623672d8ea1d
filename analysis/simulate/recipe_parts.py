"""The parts of a recipe.

Amplitudes are µm peak-to-peak like everywhere in Runtrue, times s, speeds r/min, directions
degrees counter-clockwise from +x (right) in the view from the driver end.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, model_validator

from analysis.model.setup import Range, Rotation

_MAX_RATE_HZ = 1e6

SampleType = Literal["int16", "int32", "float32", "float64"]


# No recipe needs more, and nothing within these bounds overflows on its way to volts.
_MOST = 1e9
Finite = Annotated[float, Field(strict=True, ge=-_MOST, le=_MOST)]
NotNegative = Annotated[float, Field(strict=True, ge=0, le=_MOST)]
Positive = Annotated[float, Field(strict=True, ge=1 / _MOST, le=_MOST)]


def _rising(points: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
    for (before, _), (after, _) in pairwise(points):
        if not before < after:
            raise ValueError(
                f"the first numbers of the points must rise: {after:g} after {before:g}"
            )
    return points


Points = Annotated[
    tuple[tuple[Finite, Finite], ...],
    Field(min_length=1, max_length=4096),
    AfterValidator(_rising),
]
"""Points of a smooth monotone curve, constant outside: `[[x, y], …]`, x rising."""
Rate = Annotated[float, Field(strict=True, gt=0, le=_MAX_RATE_HZ, allow_inf_nan=False)]
Order = Annotated[float, Field(strict=True, gt=0, le=1000, allow_inf_nan=False)]
Name = Annotated[str, Field(strict=True, min_length=1, max_length=200)]
Spans = Annotated[tuple[Range, ...], Field(max_length=1000)]
Turns = Annotated[tuple[Annotated[int, Field(strict=True, ge=0)], ...], Field(max_length=10_000)]


class Table(BaseModel):
    """A table of a recipe: frozen, no unknown keys."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Speed(Table):
    """Speed against time, `[[s, r/min], …]`, and the shaft angle at time 0.

    `rotation` is how the shaft turns in truth, where the setup says something else.
    """

    points: Points
    start_angle_deg: Finite = 180.0
    rotation: Rotation | None = None

    @model_validator(mode="after")
    def _speeds_are_possible(self) -> Speed:
        if any(not 0 <= rpm <= 1e6 for _, rpm in self.points):
            raise ValueError("speeds must lie between 0 and 1000000 r/min")
        return self


class Growth(Table):
    """A self-excited amplitude: grows from `start_share` at `onset_s` to its limit cycle.

    `a(t) = 1/sqrt(1 + (1/a0² - 1) exp(-2 (t - onset)/τ))`, the amplitude of a Stuart-Landau (van
    der Pol) oscillator; nothing before the onset, and `exp(-(t - end)/τ)` after `end_s`.
    """

    onset_s: Finite
    time_constant_s: Positive
    start_share: Annotated[float, Field(strict=True, gt=0, le=1)] = 0.01
    end_s: Finite | None = None


class Line(Table):
    """What every single line of a motion has: its order or frequency, and how it comes and goes."""

    order: Order | None = None
    frequency_hz: Positive | None = None
    over_time: Points | None = None
    over_speed: Points | None = None
    growth: Growth | None = None

    @model_validator(mode="after")
    def _one_frequency(self) -> Any:
        if (self.order is None) == (self.frequency_hz is None):
            raise ValueError("give either order (of the shaft) or frequency_hz")
        return self


class Component(Line):
    """A precession of the shaft: circles with and against the rotation.

    Each is a diameter (µm p-p) and the direction it points to at θ = 0 (at time 0 when it has a
    `frequency_hz`).
    """

    forward_um_pp: NotNegative = 0.0
    forward_at_deg: Finite = 0.0
    backward_um_pp: NotNegative = 0.0
    backward_at_deg: Finite = 0.0


class Vibration(Line):
    """A line of a straight motion: `s = (A/2) cos(nθ - φ)`."""

    um_pp: NotNegative
    lag_deg: Finite = 0.0


class Unbalance(Table):
    """Unbalance response of a rotor mode in an anisotropic support, in closed form.

    `offset_um` is the distance of the mass centre from the shaft's centre, `lag_deg` how far the
    heavy spot lies behind the direction of `axis_deg` at θ = 0. `natural_rpm` and `damping_ratio`
    belong to the two principal directions: `axis_deg` and 90° counter-clockwise from it. Taken as
    steady at the speed of each instant.

    Source: Jeffcott 1919; Friswell et al., *Dynamics of Rotating Machines*, chapter 6.
    """

    offset_um: NotNegative
    lag_deg: Finite = 0.0
    natural_rpm: tuple[Positive, Positive]
    damping_ratio: tuple[Positive, Positive]
    axis_deg: Finite = 0.0


class Response(Table):
    """Circles of an order against speed, as a rotor model or a measurement gives them.

    Each row is `[r/min, forward x, forward y, backward x, backward y]`: where the two circles point
    to at θ = 0, µm zero to peak. Smooth between the rows, constant outside them.
    """

    order: Order = 1.0
    table: Annotated[
        tuple[tuple[Finite, Finite, Finite, Finite, Finite], ...],
        Field(min_length=1, max_length=4096),
    ]

    @model_validator(mode="after")
    def _speeds_rise(self) -> Response:
        _rising(tuple((row[0], 0.0) for row in self.table))
        return self


class Preload(Table):
    """A load towards `at_deg` that flattens the orbit and bends it round the bearing's wall.

    The motion `u` along the load shrinks to `(1 - flatten) u - bend_per_mm v²`, with `v` the motion
    across it (the last term in mm). A picture of the shape, no dynamics.
    """

    at_deg: Finite
    flatten: Annotated[float, Field(strict=True, ge=0, lt=1)] = 0.0
    bend_per_mm: Annotated[float, Field(strict=True, ge=0, le=1000)] = 0.0


class Stop(Table):
    """A hard wall on one side of the mean position, `distance_um` from it towards `at_deg`.

    What would go beyond the wall comes back by the share `rebound` of it, and slides along the wall
    against the surface speed by the share `drag`. A picture of a rub, no dynamics.
    """

    at_deg: Finite
    distance_um: NotNegative
    rebound: Annotated[float, Field(strict=True, ge=0, le=1)] = 0.0
    drag: Annotated[float, Field(strict=True, ge=0, le=1)] = 0.0


class PlaneMotion(Table):
    """What the shaft does in a plane of the setup.

    `eccentricity_ratio` against speed puts the journal on the short-bearing locus in the clearance
    circle (needs the plane's `clearance_um`); `moved_x_um`, `moved_y_um` move it besides, against
    time. `preload` and then `stop` shape what all lines together make.
    """

    name: Name
    eccentricity_ratio: Points | None = None
    moved_x_um: Points | None = None
    moved_y_um: Points | None = None
    unbalance: Annotated[tuple[Unbalance, ...], Field(max_length=16)] = ()
    component: Annotated[tuple[Component, ...], Field(max_length=64)] = ()
    response: Annotated[tuple[Response, ...], Field(max_length=16)] = ()
    preload: Preload | None = None
    stop: Stop | None = None

    @model_validator(mode="after")
    def _ratio_is_inside(self) -> PlaneMotion:
        if self.eccentricity_ratio and any(not 0 <= r <= 1 for _, r in self.eccentricity_ratio):
            raise ValueError("an eccentricity ratio lies between 0 (centre) and 1 (touching)")
        return self


class Target(Table):
    """A straight motion towards probes: a thrust collar, or the target of a calibrator.

    `position_um` is against time, positive towards the probes, counted from the rest gap.
    """

    probes: Annotated[tuple[Name, ...], Field(min_length=1, max_length=64)]
    position_um: Points | None = None
    vibration: Annotated[tuple[Vibration, ...], Field(max_length=64)] = ()


class Runout(Table):
    """An order that a probe sees of the shaft's surface, whatever the shaft does."""

    order: Annotated[int, Field(strict=True, ge=1, le=1000)]
    um_pp: NotNegative
    lag_deg: Finite = 0.0


class Scratch(Table):
    """A dent that the probe passes once a turn: the gap grows by `depth_um` at its middle.

    `lag_deg` is the shaft angle at which its middle is under the probe, `width_deg` from edge to
    edge, with a raised cosine between.
    """

    lag_deg: Finite
    depth_um: NotNegative
    width_deg: Annotated[float, Field(strict=True, gt=0, le=360)] = 10.0


class ChannelRecipe(Table):
    """How the channel of a probe is recorded.

    What is true of the probe where the setup says something else: `curve` (`[[gap µm, volts], …]`)
    is what it does, `true_angle_deg` where it looks at the shaft from (swapped cables put the angle
    of the other probe there). `volts_limits` are where its driver can go no further.
    """

    probe: Name
    sample_rate_hz: Rate
    start_s: Finite = 0.0
    type: SampleType = "int16"
    volts_per_count: Positive = 0.001
    rest_gap_um: Finite | None = None
    noise_um_rms: NotNegative = 0.0
    noise_mv_rms: NotNegative = 0.0
    runout: Annotated[tuple[Runout, ...], Field(max_length=64)] = ()
    scratch: Annotated[tuple[Scratch, ...], Field(max_length=64)] = ()
    true_angle_deg: Finite | None = None
    curve: Annotated[Points, Field(min_length=3)] | None = None
    volts_limits: Range | None = None
    dropped_s: Spans = ()

    @model_validator(mode="after")
    def _only_floats_can_be_dropped(self) -> ChannelRecipe:
        if self.dropped_s and self.type.startswith("int"):
            raise ValueError('dropped samples are NaN, so the type must be "float32" or "float64"')
        return self


class Reference(Table):
    """How the phase-reference probe sees the mark on the shaft (a notch, or a key).

    The edge named in the setup crosses the middle between `shaft_v` and `mark_v` at θ = 0. Marks
    are counted from 0; `extra_at_turns` puts a second mark at an angle, in turns.
    """

    sample_rate_hz: Rate
    start_s: Finite = 0.0
    type: SampleType = "int16"
    volts_per_count: Positive = 0.001
    shaft_v: Finite = -8.0
    mark_v: Finite = -14.0
    width_deg: Annotated[float, Field(strict=True, gt=0, lt=360)] = 20.0
    transition_deg: Annotated[float, Field(strict=True, gt=0, lt=180)] = 6.0
    noise_mv_rms: NotNegative = 0.0
    missing_marks: Turns = ()
    extra_at_turns: Annotated[tuple[NotNegative, ...], Field(max_length=100)] = ()
    dropped_s: Spans = ()

    @model_validator(mode="after")
    def _mark_has_a_floor(self) -> Reference:
        if self.shaft_v == self.mark_v:
            raise ValueError("shaft_v and mark_v must differ")
        if self.transition_deg > min(self.width_deg, 360.0 - self.width_deg):
            raise ValueError("the transition must fit into the mark's width")
        if self.dropped_s and self.type.startswith("int"):
            raise ValueError('dropped samples are NaN, so the type must be "float32" or "float64"')
        return self

"""What the channels are and what is wanted of them: the setup (contract, section 4).

These are the checked, frozen shapes. Reading, line numbers and cross checks between tables live in
`analysis.files`; every field here is µm, V, s, r/min or degrees.
"""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, model_validator

from .units import mv_per_mil_to_mv_per_um

Rotation = Literal["cw", "ccw"]
Measure = Literal["peak_to_peak", "position", "1x"]
LimitMeasure = Literal["peak_to_peak", "position", "1x", "1x_vector"]
Level = Literal["alarm", "trip"]
RelayDriver = Literal["alarm", "trip", "fault"]
Contact = Literal["normally_open", "normally_closed"]
Energised = Literal["healthy", "acting"]
Rest = Literal["bottom", "top", "left", "right", "centre"]


def _rising(pair: tuple[float, float]) -> tuple[float, float]:
    if not pair[0] < pair[1]:
        raise ValueError(f"the first value ({pair[0]:g}) must be below the second ({pair[1]:g})")
    return pair


def _refuse(faults: list[str]) -> None:
    """Tell all faults of a table at once, one a line."""
    if faults:
        raise ValueError("\n".join(faults))


# Strict: "45" is no angle and true is no number.
Finite = Annotated[float, Field(strict=True, allow_inf_nan=False)]
NotNegative = Annotated[float, Field(strict=True, ge=0, allow_inf_nan=False)]
Positive = Annotated[float, Field(strict=True, gt=0, allow_inf_nan=False)]
Count = Annotated[int, Field(strict=True, ge=1)]
Flag = Annotated[bool, Field(strict=True)]
Range = Annotated[tuple[Finite, Finite], AfterValidator(_rising)]
Amplitudes = Annotated[tuple[NotNegative, Finite], AfterValidator(_rising)]
Lag = Annotated[float, Field(strict=True, ge=0, le=360, allow_inf_nan=False)]


class _Table(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Machine(_Table):
    """The machine. `rotation` is seen from the driver end along the train.

    `running_test_limit_um` is what its owner or maker agreed for the running test, µm p-p; left
    out, the figure that comes with the program stands for it.
    """

    title: str = ""
    rotation: Rotation = "ccw"
    operating_rpm: Range | None = None
    running_test_limit_um: Positive | None = None


class PhaseReference(_Table):
    """The probe that sees `events_per_turn` marks a turn; threshold and hysteresis in volts."""

    channel: str
    edge: Literal["falling", "rising"] = "falling"
    events_per_turn: Count = 1
    threshold_v: Finite | None = None
    hysteresis_v: NotNegative | None = None


class KnownPoint(_Table):
    """A known point of the straight line from volts to gap."""

    gap_um: Finite
    volts: Finite


class SlowRollVector(_Table):
    """Runout of one order as a probe shows it at slow roll; lag as in the contract, degrees."""

    order: Annotated[int, Field(ge=1, le=100)] = 1
    um_pp: NotNegative
    lag_deg: Finite
    rpm: Positive | None = None


class Probe(_Table):
    """One proximity probe. `angle_deg` is from 12 o'clock, clockwise seen from the driver end."""

    name: Annotated[str, Field(min_length=1)]
    channel: str = ""
    angle_deg: Finite | None = None
    kind: Literal["radial", "axial"] = "radial"
    scale_factor_mv_per_um: Positive | None = None
    scale_factor_mv_per_mil: Positive | None = None
    # ±5 % over the testing range: API 670 (5th ed., 2014) Table 1, from memory; the chain's own
    # certificate comes first.
    scale_factor_tolerance_percent: NotNegative = 5.0
    point: KnownPoint = KnownPoint(gap_um=0.0, volts=0.0)
    calibration: tuple[tuple[Finite, Finite], ...] | None = None
    linear_range_um: Range | None = None
    rest_gap_um: Finite | None = None
    fault_v: Range | None = None
    slow_roll: tuple[SlowRollVector, ...] = ()

    @model_validator(mode="before")
    @classmethod
    def _channel_defaults_to_name(cls, data: object) -> object:
        if isinstance(data, dict) and not data.get("channel") and "name" in data:
            return {**data, "channel": data["name"]}
        return data

    @model_validator(mode="after")
    def _rules(self) -> Probe:
        _refuse([*self._scale_factor_faults(), *self._calibration_faults()])
        return self

    def _scale_factor_faults(self) -> list[str]:
        given = [self.scale_factor_mv_per_um, self.scale_factor_mv_per_mil]
        if all(value is not None for value in given):
            return ["give the scale factor in mV/µm or in mV/mil, not both"]
        if all(value is None for value in given) and self.calibration is None:
            return ["a scale factor (or a calibration table) is missing"]
        return []

    def _calibration_faults(self) -> list[str]:
        if self.calibration is None:
            return []
        if len(self.calibration) < 3:
            return ["a calibration table needs at least three rows [gap_um, volts]"]
        faults = []
        rows = sorted(self.calibration)
        for (gap_a, volts_a), (gap_b, volts_b) in pairwise(rows):
            if gap_a == gap_b:
                faults.append(f"the calibration table has the gap {gap_a:g} µm twice")
            elif volts_b >= volts_a:
                faults.append(
                    f"the calibration table must fall in volts as the gap grows: "
                    f"{gap_a:g} µm has {volts_a:g} V, {gap_b:g} µm has {volts_b:g} V"
                )
        return faults

    @property
    def scale_factor_v_per_um(self) -> float:
        """V/µm, positive. With a calibration table alone: its average between the ends."""
        if self.scale_factor_mv_per_um is not None:
            return self.scale_factor_mv_per_um / 1000.0
        if self.scale_factor_mv_per_mil is not None:
            return mv_per_mil_to_mv_per_um(self.scale_factor_mv_per_mil) / 1000.0
        assert self.calibration is not None  # the validator saw to it
        (gap_a, volts_a), *_, (gap_b, volts_b) = sorted(self.calibration)
        return (volts_a - volts_b) / (gap_b - gap_a)

    @property
    def direction(self) -> tuple[float, float]:
        """Unit vector (x right, y up) from the shaft to the probe; needs `angle_deg`.

        Raises:
            ValueError: when the probe has no angle (an axial probe).
        """
        if self.angle_deg is None:
            raise ValueError(f"probe {self.name} has no angle")
        angle = math.radians(self.angle_deg)
        return math.sin(angle), math.cos(angle)


class Plane(_Table):
    """Two radial probes that see the same shaft section. `clearance_um` is diametral."""

    name: Annotated[str, Field(min_length=1)]
    probes: tuple[str, str]
    clearance_um: Positive | None = None
    rest: Rest = "bottom"


class Multiplier(_Table):
    """Raises a limit by `factor` while the speed is within `rpm`."""

    factor: Annotated[float, Field(strict=True, ge=1, allow_inf_nan=False)]
    rpm: Range


class Region(_Table):
    """Where 1X must stay: amplitude µm p-p, phase lag in degrees.

    The lag goes up from the first value to the second, through 360 where the second is the smaller;
    `[0, 360]` is any lag.
    """

    amplitude_um: Amplitudes
    lag_deg: tuple[Lag, Lag]

    @model_validator(mode="after")
    def _lags_differ(self) -> Region:
        if self.lag_deg[0] == self.lag_deg[1]:
            raise ValueError("lag_deg must go from one lag to another; any lag is [0, 360]")
        return self


class Limit(_Table):
    """One limit on one or more probes; `above` and `below` are µm (p-p, or gap for position).

    The measure `"1x_vector"` has a `region` in their place and is met outside it.
    """

    probes: Annotated[tuple[str, ...], Field(min_length=1)]
    measure: LimitMeasure
    level: Level
    above: Finite | None = None
    below: Finite | None = None
    region: Region | None = None
    delay_s: NotNegative = 0.0
    latching: Flag = False
    hysteresis_um: NotNegative = 0.0
    votes: Count = 1
    multiplier: Multiplier | None = None

    @model_validator(mode="after")
    def _bounds(self) -> Limit:
        faults = self._region_faults()
        no_level = self.above is None and self.below is None
        if self.measure != "1x_vector" and self.region is None and no_level:
            faults.append("a limit needs above or below (or both)")
        if self.above is not None and self.below is not None and self.below >= self.above:
            faults.append(f"below ({self.below:g}) must be less than above ({self.above:g})")
        if self.votes > len(self.probes):
            faults.append(f"{self.votes} votes cannot come from {len(self.probes)} probe(s)")
        _refuse(faults)
        return self

    def _region_faults(self) -> list[str]:
        if self.measure != "1x_vector":
            if self.region is None:
                return []
            return [
                f'a region belongs to the measure "1x_vector"; "{self.measure}" has above or below'
            ]
        faults = []
        if self.region is None:
            faults.append(
                "a 1x_vector limit needs a region, such as "
                "region = { amplitude_um = [10, 60], lag_deg = [30, 90] }"
            )
        if self.above is not None or self.below is not None:
            faults.append("a 1x_vector limit has a region and neither above nor below")
        if self.multiplier is not None:
            faults.append("a region of amplitude and phase takes no multiplier")
        return faults


class Relay(_Table):
    """A relay that limits or circuit faults drive, as a meter across its contact would see it.

    `probes`: those whose limits (or faults) drive it; all when not given. `contact` is its position
    with the coil dead. `energised`: when the coil has current, while nothing acts or only while
    something does.
    """

    name: Annotated[str, Field(min_length=1)]
    driven_by: RelayDriver
    probes: Annotated[tuple[str, ...], Field(min_length=1)] | None = None
    contact: Contact = "normally_open"
    energised: Energised = "acting"


class Output(_Table):
    """One 4-20 mA current loop: `range_um` holds the values at 4 mA and at 20 mA."""

    probe: str
    measure: Measure
    range_um: tuple[Finite, Finite]

    @model_validator(mode="after")
    def _range_is_not_empty(self) -> Output:
        if self.range_um[0] == self.range_um[1]:
            raise ValueError("the values at 4 mA and at 20 mA must differ")
        return self


class SeverityZones(_Table):
    """Boundaries of the evaluation zones, `coefficient / sqrt(r/min)` µm p-p; data, not a claim.

    Defaults: ISO 7919-3:2009 and the shaft annex of ISO 20816-3:2022, formula from memory.
    The machine owner's and maker's figures come first.
    """

    edition: str = "ISO 20816-3:2022, shaft annex (formula from memory)"
    a_b: Positive = 4800.0
    b_c: Positive = 9000.0
    c_d: Positive = 13200.0


class Setup(_Table):
    """The whole setup. Names that point nowhere are found by `analysis.files`, not here."""

    version: Literal[1] = 1
    machine: Machine = Machine()
    phase_reference: PhaseReference | None = None
    probe: tuple[Probe, ...] = ()
    plane: tuple[Plane, ...] = ()
    limit: tuple[Limit, ...] = ()
    relay: tuple[Relay, ...] = ()
    output: tuple[Output, ...] = ()
    severity_zones: SeverityZones | None = None

    def probe_named(self, name: str) -> Probe:
        """The probe of that name.

        Raises:
            KeyError: when there is none.
        """
        for probe in self.probe:
            if probe.name == name:
                return probe
        raise KeyError(name)

    def limits_of(self, probe_name: str) -> tuple[Limit, ...]:
        """The limits that look at this probe, in the order of the setup."""
        return tuple(limit for limit in self.limit if probe_name in limit.probes)

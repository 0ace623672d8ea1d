"""How limits and their settings are written in the pictures."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, Literal

from .axes import plain_number
from .style import state_mark
from .wording import setting_text

if TYPE_CHECKING:
    from analysis.model.setup import Limit, Region
    from analysis.model.units import LengthUnit

Side = Literal["above", "below"]

SIDES: Final[tuple[Side, ...]] = ("above", "below")

_QUANTITIES: Final = {
    "peak_to_peak": "p-p",
    "position": "gap",
    "1x": "1X",
    "1x_vector": "1X",
}


def quantity(measure: str) -> str:
    """What a limit looks at: `p-p`, `gap` or `1X`."""
    return _QUANTITIES[measure]


def length_unit(measure: str, unit: LengthUnit) -> str:
    """The unit of a measure: `µm p-p`, or `µm` for a gap."""
    return unit.value if measure == "position" else f"{unit.value} p-p"


def delay_text(delay_s: float) -> str:
    """`1 s`, `0.25 s`, `no delay`."""
    return f"{delay_s:g} s" if delay_s > 0.0 else "no delay"


def bounds_of(limit: Limit) -> dict[Side, float]:
    """The values of a limit by side, µm; of a region of 1X the amplitudes that bound it."""
    if limit.region is not None:
        low, high = limit.region.amplitude_um
        return {"above": high, "below": low}
    given: dict[Side, float | None] = {"above": limit.above, "below": limit.below}
    return {side: value for side, value in given.items() if value is not None}


def lags_text(region: Region) -> str:
    """The phase lags of a region of 1X, `30° to 90°`."""
    low, high = region.lag_deg
    return "any lag" if (low, high) == (0.0, 360.0) else f"{low:g}° to {high:g}°"


def value_text(limit: Limit, unit: LengthUnit) -> str:
    """The setting without delay: `125 µm`, `860 to 1660 µm`, with its lags for a region."""
    bounds = bounds_of(limit)
    text = " to ".join(
        setting_text(bounds[side], unit) for side in ("below", "above") if side in bounds
    )
    if len(bounds) == 2:
        text = text.replace(f" {unit.value} to", " to")
    elif "below" in bounds:
        text = f"below {text}"
    if limit.region is not None:
        text += f", {lags_text(limit.region)}"
    return text


def manner_words(limit: Limit, unit: LengthUnit) -> list[str]:
    """Everything but the value: delay, latch, votes, hysteresis, multiplier."""
    words = [delay_text(limit.delay_s)]
    if limit.latching:
        words.append("latching")
    if limit.votes > 1:
        words.append(f"{limit.votes} of {len(limit.probes)}")
    if limit.hysteresis_um > 0.0:
        words.append(f"hysteresis {setting_text(limit.hysteresis_um, unit)}")
    if limit.multiplier is not None and limit.measure != "position":
        low, high = (plain_number(value, 0) for value in limit.multiplier.rpm)
        words.append(f"×{limit.multiplier.factor:g} from {low} to {high} r/min")
    return words


def changed_words(in_force: Limit, trial: Limit, unit: LengthUnit) -> list[str]:
    """What the settings in force say where the trial says something else; without the value."""
    words = []
    if in_force.delay_s != trial.delay_s:
        words.append(delay_text(in_force.delay_s))
    if in_force.latching != trial.latching:
        words.append("latching" if in_force.latching else "not latching")
    if in_force.votes != trial.votes:
        words.append(f"{in_force.votes} of {len(in_force.probes)}")
    if in_force.hysteresis_um != trial.hysteresis_um:
        words.append(f"hysteresis {setting_text(in_force.hysteresis_um, unit)}")
    if in_force.multiplier != trial.multiplier:
        words.append(f"×{in_force.multiplier.factor:g}" if in_force.multiplier else "no multiplier")
    return words


def probes_text(limit: Limit, most: int = 2) -> str:
    """The probes of a limit, `DE-X, DE-Y`; more than `most` are counted, `DE-X +3`."""
    if len(limit.probes) <= most:
        return ", ".join(limit.probes)
    return f"{limit.probes[0]} +{len(limit.probes) - 1}"


def limit_name(limit: Limit, most: int = 2) -> str:
    """Mark, level and probes: `◆ trip DE-X`, `▲ alarm THR-A, THR-B gap`."""
    measure = "" if limit.measure == "peak_to_peak" else f" {quantity(limit.measure)}"
    return f"{state_mark(limit.level)[0]} {limit.level} {probes_text(limit, most)}{measure}"

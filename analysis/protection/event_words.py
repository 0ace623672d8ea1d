"""Why an event came: a sentence for people, beside its time and its reading."""

from __future__ import annotations

from typing import NamedTuple

from analysis.model.setup import Limit, Probe, Region
from analysis.model.units import LengthUnit

from .lengths import length_text, names_text

MEASURE_WORDS = {
    "peak_to_peak": "p-p",
    "position": "gap",
    "1x": "1X",
    "1x_vector": "1X",
}
"""What a limit looks at, in the words of the trade."""


class AtTick(NamedTuple):
    """A limit at the tick of an event: which probes are beyond it, and what the deciding one reads.

    `name` and `value_um` are of the deciding probe, `None` where a circuit fault decides or all is
    void; `factor` is the multiplier's, 1 where it is not in force.
    """

    name: str | None
    value_um: float | None
    side: str
    agreeing: tuple[str, ...]
    at_fault: tuple[str, ...]
    factor: float


def seconds_text(time_s: float) -> str:
    """A time to the hundredth, with one decimal where that is all of it: `47.4`, `140.05`."""
    text = f"{time_s:.2f}"
    return text[:-1] if text.endswith("0") else text


def region_text(region: Region, unit: LengthUnit = LengthUnit.UM) -> str:
    """A region of 1X: `20 µm to 60 µm p-p, lag 30° to 90°`."""
    low, high = (length_text(amplitude, unit) for amplitude in region.amplitude_um)
    start, end = region.lag_deg
    lag = "any lag" if (start, end) == (0.0, 360.0) else f"lag {start:g}° to {end:g}°"
    return f"{low} to {high} p-p, {lag}"


def set_words(limit: Limit, at: AtTick, unit: LengthUnit = LengthUnit.UM) -> str:
    """Why a limit set: `125 µm or more for 1.0 s`."""
    parts = []
    if at.agreeing:
        who = f"{names_text(at.agreeing)}: " if len(limit.probes) > 1 else ""
        parts.append(f"{who}{_condition(limit, at, unit)}{_delay(limit)}")
    if at.at_fault and limit.votes > 1:
        one = len(at.at_fault) == 1
        what = "the circuit fault of" if one else "the circuit faults of"
        counts = "counts as a vote" if one else "count as votes"
        late = "" if parts else _delay(limit)
        parts.append(f"{what} {names_text(at.at_fault)} {counts}{late}")
    return "; ".join(parts)


def cleared_words(limit: Limit, at: AtTick, unit: LengthUnit = LengthUnit.UM) -> str:
    """Why a limit cleared by itself: `below 95 µm for 1.0 s`."""
    return f"{_gone(limit, at, unit)}{_delay(limit)}"


def held_words(
    limit: Limit, at: AtTick, reset_s: float | None, unit: LengthUnit = LengthUnit.UM
) -> str:
    """Why a limit is still set without its condition; `reset_s` is the reset that lets it go."""
    reset = ", no reset since" if reset_s is None else f" until the reset at {_s(reset_s)}"
    return f"{_gone(limit, at, unit, 'fell', 'rose')}; the latch holds it{reset}"


def reset_words(limit: Limit, at: AtTick, unit: LengthUnit = LengthUnit.UM) -> str:
    """Why a reset let go of a latch."""
    return f"reset while {_gone(limit, at, unit, 'was', 'was')}: the latch let go"


def fault_words(probe: Probe | None, *, begins: bool) -> str:
    """Why a circuit fault came or went."""
    voltages = "its range"
    if probe is not None and probe.fault_v is not None:
        low, high = (f"{volts:g}".replace("-", "−") for volts in probe.fault_v)
        voltages = f"{low} to {high} V"
    elif begins:
        return "samples are missing; measures of the probe are void"
    if begins:
        return f"gap voltage outside {voltages}, or samples missing; measures of the probe are void"
    return f"gap voltage inside {voltages} again"


def _condition(limit: Limit, at: AtTick, unit: LengthUnit) -> str:
    if limit.region is not None:
        return f"1X outside its region ({region_text(limit.region, unit)})"
    setting, more = _setting(limit, at, unit), "or more" if at.side == "above" else "or less"
    raised = ""
    if at.side == "above" and at.factor != 1.0 and limit.above is not None:
        raised = f" ({length_text(limit.above, unit)} × {at.factor:g} at this speed)"
    return f"{setting} {more}{raised}"


def _gone(limit: Limit, at: AtTick, unit: LengthUnit, fell: str = "", rose: str = "") -> str:
    """In what way the condition is gone: `p-p fell below 125 µm`; without verbs `below 125 µm`."""
    if at.value_um is None:
        why = "a circuit fault" if at.at_fault else "no measure"
        return f"{'there was ' if fell else ''}nothing to judge ({why})"
    what = MEASURE_WORDS[limit.measure]
    who = f"{what} of {at.name}" if len(limit.probes) > 1 else what
    margin = ""
    if limit.hysteresis_um > 0.0:
        margin = f" by {length_text(limit.hysteresis_um, unit)}"
    if limit.region is not None:
        verb = {"": "", "fell": "came ", "was": "was "}[fell]
        return f"{who} {verb}inside its region ({region_text(limit.region, unit)}){margin}"
    verb = fell if at.side == "above" else rose
    side = "below" if at.side == "above" else "above"
    start = f"{who} {verb} " if verb else ""
    return f"{start}{side} {_setting(limit, at, unit)}{margin}"


def _setting(limit: Limit, at: AtTick, unit: LengthUnit) -> str:
    if at.side == "above" and limit.above is not None:
        return length_text(limit.above * at.factor, unit)
    return length_text(limit.below or 0.0, unit)


def _delay(limit: Limit) -> str:
    return f" for {_s(limit.delay_s)}" if limit.delay_s > 0.0 else ""


def _s(time_s: float) -> str:
    return f"{seconds_text(time_s)} s"

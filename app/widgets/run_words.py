"""The finding of a run in words: the headline, the rows of the lists, what is doubtful."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from .words import DASH, lag, length, number, seconds

if TYPE_CHECKING:
    from analysis.model.response_results import (
        CriticalSpeed,
        Doubt,
        NotCounted,
        Response,
        ResponseResult,
    )
    from analysis.model.units import LengthUnit
    from analysis.views.run import Component

RUNS = {"up": "↑ up", "down": "↓ down", "unknown": DASH}
STANDARD = "by RP 684 (read outside the standard; the owner's and maker's figures come first)"


@dataclass(frozen=True)
class Row:
    """A row of a list: its cells, what is told of it below, and the moment that it belongs to."""

    cells: tuple[str, ...]
    details: str
    time_s: float | None = None
    quiet: bool = False


CRITICAL_COLUMNS = (
    ("Where", "Probe, or principal direction of a plane"),
    ("r/min", "Critical speed: the peak of compensated 1X with a phase change through it"),
    (
        "AF",
        "Amplification factor: critical speed over the width at half power. A question mark: "
        "something makes the figures less sure; it is told below",
    ),
    ("smoothed", "The same factor of vectors that were averaged over neighbouring turns"),
    ("by phase", "Factor from the slope of the phase at the peak, N/2 · dφ/dN"),
    ("Margin", "Distance to the operating range, % of its nearer end"),
    ("asked", f"Least margin, %, {STANDARD}"),
    ("Peak", "Amplitude p-p and phase lag at the peak, slow roll taken off"),
    ("Half-power", "Speeds, r/min, to either side at which the amplitude is 0.707 of the peak"),
    ("Run", "The passage that it was found in"),
)

COMPONENT_COLUMNS = (
    ("Where", "Plane, or probe"),
    ("Measured", "Direction of precession and share of running speed"),
    ("Hz", "Mean frequency"),
    ("Largest", "Largest amplitude, p-p"),
    ("Speeds", "r/min while it lasted"),
    ("From", "When it began, s"),
    ("Lasted", "How long, s"),
)


# Headline --------------------------------------------------------------------------------------


def headline(response: ResponseResult, shown: Sequence[str]) -> str:
    """The finding in one sentence: which critical speed, how damped, how far from operation."""
    found = [
        (name, critical)
        for name in shown
        if name in response.probes
        for critical in response.probes[name].criticals
    ]
    if not found:
        return f"No critical speed found: {_why_none(response, shown)}"
    name, main = max(found, key=lambda pair: pair[1].amplitude_um_pp)
    words = f"{name}: critical speed {number(main.speed_rpm, 0)} r/min"
    return f"{words}, {_damped(main)}, {_margin(main, response.operating_rpm)}."


def _damped(critical: CriticalSpeed) -> str:
    factor = critical.amplification_factor
    if factor is None:
        return "factor not known (no half-power points)"
    told = f"amplification factor {number(factor, 1)}"
    if factor < 2.5:
        return f"{told} (critically damped)"
    return f"{told} (about {number(50.0 / factor, 1 if factor > 5 else 0)} % damping)"


def _margin(critical: CriticalSpeed, operating: tuple[float, float] | None) -> str:
    margin = critical.separation_margin_percent
    if operating is None or margin is None:
        return "the operating range is not known"
    low, span = operating[0], "the operating range"
    if margin <= 0.0:
        return f"▲ inside {span}"
    side = "below" if critical.speed_rpm < low else "above"
    told = f"{number(margin, 0)} % {side} {span}"
    asked = critical.required_margin_percent
    if asked is None:
        return told
    if asked > margin:
        return f"▲ {told}, less than the {number(asked, 0)} % asked for"
    return f"{told}; {number(asked, 0)} % is asked for" if asked > 0.0 else told


def _why_none(response: ResponseResult, shown: Sequence[str]) -> str:
    for name in shown:
        each = response.probes.get(name)
        if each is None:
            continue
        said = [one.doubt for leg in each.passages for one in leg.not_counted]
        said += [notice for leg in each.passages for notice in leg.notices]
        said += list(each.notices)
        if said:
            return _sentence(said[0].sentence)
    return "the 1X amplitude has no peak with a phase change through it."


def _sentence(text: str) -> str:
    return text if text.endswith(".") else f"{text}."


def split_words(response: ResponseResult, planes: Sequence[str]) -> str:
    """The two principal directions, where they differ; empty where they do not."""
    for name, plane in response.planes.items():
        if name not in planes or not plane.split or plane.first is None or plane.second is None:
            continue
        speeds = [
            max(each.criticals, key=lambda c: c.amplitude_um_pp)
            for each in (plane.first, plane.second)
            if each.criticals
        ]
        told = " and ".join(
            f"{number(c.speed_rpm, 0)} (AF {number(c.amplification_factor, 1)})" for c in speeds
        )
        return (
            f"{plane.name} has two close together, {told} r/min, along its principal directions: "
            f"a probe between them sees both at once"
        )
    return ""


# Rows ------------------------------------------------------------------------------------------


def critical_rows(
    response: ResponseResult,
    shown: Sequence[str],
    planes: Sequence[str],
    unit: LengthUnit,
) -> tuple[Row, ...]:
    """Every critical speed of the probes shown and of principal directions, then what is none."""
    rows: list[Row] = []
    for name in shown:
        each = response.probes.get(name)
        if each is not None:
            rows += [_critical_row(name, each, c, unit) for c in each.criticals]
    for plane_name, plane in response.planes.items():
        for direction in (plane.first, plane.second):
            if plane.split and direction is not None and plane_name in planes:
                rows += [
                    _critical_row(direction.name, direction, c, unit) for c in direction.criticals
                ]
    for name in shown:
        each = response.probes.get(name)
        if each is not None:
            rows += [_rise_row(name, one, unit) for leg in each.passages for one in leg.not_counted]
    return tuple(rows)


def _critical_row(name: str, response: Response, critical: CriticalSpeed, unit: LengthUnit) -> Row:
    low, high = (number(n, 0) for n in critical.half_power_rpm)
    cells = (
        name,
        number(critical.speed_rpm, 0),
        number(critical.amplification_factor, 1) + (" ?" if critical.doubts else ""),
        number(_smoothed_factor(response, critical), 1),
        number(critical.phase_slope_factor, 1),
        _percent(critical.separation_margin_percent),
        _percent(critical.required_margin_percent),
        f"{length(critical.amplitude_um_pp, unit)} ∠ {lag(critical.phase_lag_deg, 0)}",
        f"{low} to {high}",
        RUNS[critical.direction],
    )
    return Row(cells, critical_details(name, critical), critical.time_s)


def _smoothed_factor(response: Response, critical: CriticalSpeed) -> float | None:
    """The factor of the same critical speed after smoothing over turns."""
    if not response.smoothed:
        return None
    near = min(response.smoothed, key=lambda c: abs(c.speed_rpm - critical.speed_rpm))
    same = abs(near.speed_rpm / critical.speed_rpm - 1.0) < 0.03
    return near.amplification_factor if same else None


def critical_details(name: str, critical: CriticalSpeed) -> str:
    """What the sweep did to the peak, and what is doubtful, in sentences."""
    words = [f"{name}, {number(critical.speed_rpm, 0)} r/min."]
    sweep = critical.sweep
    if sweep is not None and all(doubt.flag != "fast-sweep" for doubt in critical.doubts):
        rate = f"{number(abs(sweep.rate), 0)} r/min a second"
        if abs(sweep.shift_percent) < 0.5 and abs(sweep.lowering_percent) < 1.0:
            words.append(f"Swept at {rate}: slow enough, it shifts the peak by less than 0.5 %.")
        else:
            words.append(
                f"Swept at {rate}: that shifts the peak by {number(sweep.shift_percent, 1)} % and "
                f"lowers it by {number(sweep.lowering_percent, 0)} %; without haste it would be at "
                f"{number(sweep.slow_speed_rpm, 0)} r/min with a factor of "
                f"{number(sweep.slow_factor, 1)} (one mode, linear)."
            )
    words += [f"Doubt: {doubt.sentence}" for doubt in critical.doubts]
    return " ".join(_sentence(text) for text in words)


def _rise_row(name: str, one: NotCounted, unit: LengthUnit) -> Row:
    cells = (
        name,
        number(one.speed_rpm, 0),
        *[""] * 5,
        length(one.amplitude_um_pp, unit),
        "not counted",
        RUNS[one.direction],
    )
    told = (
        f"{name}, {number(one.speed_rpm, 0)} r/min is not counted: {_sentence(one.doubt.sentence)}"
    )
    return Row(cells, told, None, quiet=True)


def component_rows(components: Sequence[Component], unit: LengthUnit) -> tuple[Row, ...]:
    """What is no whole order: measured figures in the cells, the hedged remark below."""
    rows = []
    for each in components:
        it = each.measured
        low, high = it.speed_rpm
        speeds = f"{number(low, 0)} to {number(high, 0)}" if high - low > 1.0 else number(low, 0)
        cells = (
            each.of,
            it.words,
            number(it.frequency_hz, 1),
            length(it.amplitude_um, unit),
            speeds,
            number(it.from_s, 1),
            number(it.to_s - it.from_s, 1),
        )
        told = [f"{each.of}: {it.words}, {seconds(it.from_s, 1)} to {seconds(it.to_s, 1)}."]
        if it.rows > 1:
            told.append(
                f"While the speed changed it wandered by {number(it.order_spread, 3)} orders, "
                f"{number(it.frequency_spread_hz, 2)} Hz."
            )
        if each.consistent:
            told.append(f"Apart from what was measured: {_sentence(each.consistent)}")
        middle = (it.from_s + it.to_s) / 2.0
        rows.append(Row(cells, " ".join(told), middle))
    return tuple(rows)


def doubts_words(notices: Sequence[Doubt]) -> str:
    """Reasons in one line."""
    return " ".join(capital(_sentence(notice.sentence)) for notice in notices)


def capital(text: str) -> str:
    """The text with a capital at its head."""
    return text[:1].upper() + text[1:]


def _percent(value: float | None) -> str:
    return DASH if value is None else f"{number(value, 0)} %"

"""A response as text for people: slow roll, critical speeds, what is doubtful."""

from __future__ import annotations

from collections.abc import Sequence

from analysis.model.response_results import CriticalSpeed, Response, ResponseResult
from analysis.model.units import LengthUnit
from analysis.rotor.response.margins import EDITION
from analysis.rotor.vectors import amplitude_and_lag

from .caution import CAUTION
from .text_table import text_table

_DASH = "-"
_DIRECTIONS = (
    "Directions of a plane are degrees counter-clockwise from the right, seen from the driver end."
)


def response_text(
    result: ResponseResult, notices: Sequence[str] = (), unit: LengthUnit = LengthUnit.UM
) -> str:
    """Tables of slow-roll vectors and critical speeds, doubts below; ends with a line break."""
    blocks = [_slow_rolls(result, unit)]
    rows = [
        [name, *_row(critical, unit)]
        for name, response in result.probes.items()
        for critical in response.criticals
    ]
    directions = [
        response
        for plane in result.planes.values()
        if plane.split
        for response in (plane.first, plane.second)
        if response is not None
    ]
    rows += [
        [response.name, *_row(critical, unit)]
        for response in directions
        for critical in response.criticals
    ]
    if rows:
        head = ["1X of", "Critical, r/min", f"p-p, {unit.value}", "N1 to N2, r/min", "AF"]
        head += ["Margin, %", "Required, %", "Run"]
        blocks.append(text_table(head, rows))
    else:
        blocks.append(["No critical speed was found."])
    if directions:
        blocks.append([_DIRECTIONS])
    blocks.append(_said(result, directions))
    blocks.append([f"Note: {notice}" for notice in [*notices, *result.notices]])
    if result.operating_rpm is not None:
        low, high = result.operating_rpm
        blocks.append(
            [
                f"Operating range {low:g} to {high:g} r/min. Required margin by {EDITION}, read "
                f"outside the standard: the owner's and maker's figures come first."
            ]
        )
    blocks.append([CAUTION])
    return "\n\n".join("\n".join(block) for block in blocks if block) + "\n"


def _slow_rolls(result: ResponseResult, unit: LengthUnit) -> list[str]:
    rows = []
    for name, response in result.probes.items():
        slow_roll = response.slow_roll
        if slow_roll is None:
            rows.append([name, _DASH, _DASH, _DASH, "none taken off"])
            continue
        amplitude, lag = amplitude_and_lag(slow_roll.vector)
        speed = _DASH if slow_roll.speed_rpm is None else f"{slow_roll.speed_rpm:.0f}"
        rows.append([name, speed, _length(amplitude, unit), f"{lag:.0f}°", "taken off"])
    return text_table(["Slow roll", "r/min", f"p-p, {unit.value}", "lag", ""], rows)


def _row(critical: CriticalSpeed, unit: LengthUnit) -> list[str]:
    low, high = (_DASH if n is None else f"{n:.0f}" for n in critical.half_power_rpm)
    return [
        f"{critical.speed_rpm:.0f}",
        _length(critical.amplitude_um_pp, unit),
        f"{low} to {high}",
        _number(critical.amplification_factor),
        _number(critical.separation_margin_percent),
        _number(critical.required_margin_percent),
        critical.direction,
    ]


def _said(result: ResponseResult, directions: Sequence[Response]) -> list[str]:
    """What is doubtful, each sentence once with all that it holds for."""
    told: dict[str, list[str]] = {}
    named = [*result.probes.items(), *((each.name, each) for each in directions)]
    for name, response in named:
        for notice in (*response.notices, *(n for e in response.passages for n in e.notices)):
            told.setdefault(notice.sentence, []).append(name)
        for critical in response.criticals:
            for doubt in critical.doubts:
                who = f"{name} at {critical.speed_rpm:.0f} r/min"
                told.setdefault(doubt.sentence, []).append(who)
        for one in (one for each in response.passages for one in each.not_counted):
            told.setdefault(one.doubt.sentence, []).append(f"{name}, not counted")
    return [f"{', '.join(dict.fromkeys(who))}: {sentence}." for sentence, who in told.items()]


def _length(um: float, unit: LengthUnit) -> str:
    return f"{um * unit.per_um:.{unit.decimals}f}"


def _number(value: float | None) -> str:
    return _DASH if value is None else f"{value:.1f}"

"""1X of one probe or direction over all its passages: slow roll off, critical speeds found."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from analysis.model.response_results import (
    CriticalSpeed,
    Doubt,
    PassageResponse,
    Response,
    ResponsePoints,
    SlowRoll,
)
from analysis.model.results import RevolutionTable

from .critical_speeds import passage_response
from .passages import passages_of
from .slow_roll import compensated
from .smoothing import moving_average

SMOOTHING_TURNS = 5
"""Turns that the smoothed figures are averaged over unless somebody says otherwise."""

_SAME = 0.5
"""Criticals of two passages are one when they lie closer than this share of their half-power
width, with what the sweep rates shift them taken into account."""

_SAME_WITHOUT_WIDTH = 0.04
_ALIKE = 0.06


def points_of(table: RevolutionTable, probe: str, order: int = 1) -> ResponsePoints:
    """The vectors of one order of a probe, revolution by revolution.

    Raises:
        KeyError: when the table has no such probe or order.
    """
    gaps = table.start_s[1:] - table.end_s[:-1]
    turn = np.median(table.end_s - table.start_s) if len(table) else 0.0
    consecutive = bool(len(table) > 1 and np.all(np.abs(gaps) <= 0.01 * turn))
    return ResponsePoints(
        order=order,
        time_s=(table.start_s + table.end_s) / 2.0,
        speed_rpm=table.speed_rpm,
        vectors=table.probes[probe].vectors[order],
        consecutive=consecutive,
    )


def response_of(
    name: str,
    raw: ResponsePoints,
    slow_roll: SlowRoll | None,
    operating_rpm: tuple[float, float] | None = None,
    *,
    smoothing_turns: int = SMOOTHING_TURNS,
    notices: tuple[Doubt, ...] = (),
) -> Response:
    """Slow roll taken off, every passage looked through, each critical speed once.

    Args:
        name: of the probe or direction.
        raw: 1X as measured.
        slow_roll: the vector to take off; `None` for none.
        operating_rpm: lowest and highest running speed, for margins.
        smoothing_turns: turns that the figures beside the plain ones are averaged over; 1 for none.
        notices: what is to be said already, as why there is no slow-roll vector.
    """
    points = compensated(raw, slow_roll)
    passages = passages_of(points)
    found = tuple(passage_response(points, passage, operating_rpm) for passage in passages)
    smoothed: tuple[CriticalSpeed, ...] = ()
    if smoothing_turns > 1 and any(each.criticals for each in found):
        averaged = replace(points, vectors=moving_average(points.vectors, smoothing_turns))
        smoothed = each_once(
            tuple(passage_response(averaged, each, operating_rpm) for each in passages)
        )
    said = list(notices)
    if not passages:
        said.append(_no_passage(points))
    return Response(
        name=name,
        raw=raw,
        compensated=points,
        slow_roll=slow_roll,
        passages=found,
        criticals=each_once(found),
        smoothed=smoothed,
        smoothing_turns=smoothing_turns,
        notices=tuple(said),
    )


def each_once(passages: tuple[PassageResponse, ...]) -> tuple[CriticalSpeed, ...]:
    """Every critical speed of all passages once, from the passage where it is least doubtful.

    Fewest doubts first, then the slower sweep. Passages that show the same one at different speeds
    or factors are told in a doubt.
    """
    found = [(k, c) for k, each in enumerate(passages) for c in each.criticals]
    # Surest first, so that each group is led by its best.
    found.sort(key=lambda pair: (_unsure(pair[1]), abs(pair[1].rate or 0.0)))
    groups: list[list[tuple[int, CriticalSpeed]]] = []
    for k, critical in found:
        for group in groups:
            free = all(k != other for other, _ in group)
            if free and _same(group[0][1], critical):
                group.append((k, critical))
                break
        else:
            groups.append([(k, critical)])
    out = [_led(group) for group in groups]
    return tuple(sorted(out, key=lambda critical: critical.speed_rpm))


def _unsure(critical: CriticalSpeed) -> int:
    return len(critical.doubts) + 4 * (critical.amplification_factor is None)


def _slow_speed(critical: CriticalSpeed) -> float:
    return critical.sweep.slow_speed_rpm if critical.sweep is not None else critical.speed_rpm


def _same(one: CriticalSpeed, other: CriticalSpeed) -> bool:
    apart = abs(_slow_speed(one) - _slow_speed(other))
    factor = one.amplification_factor or other.amplification_factor
    width = one.speed_rpm / factor if factor else one.speed_rpm * _SAME_WITHOUT_WIDTH / _SAME
    return apart <= max(_SAME * width, 0.01 * one.speed_rpm)


def _led(group: list[tuple[int, CriticalSpeed]]) -> CriticalSpeed:
    best = group[0][1]
    for _, other in group[1:]:
        a, b = best.amplification_factor, other.amplification_factor
        differ = abs(best.speed_rpm / other.speed_rpm - 1.0) > 0.02
        differ |= a is not None and b is not None and abs(a / b - 1.0) > 2.0 * _ALIKE
        if differ:
            shown = f"{b:.1f}" if b is not None else "unknown"
            doubt = Doubt(
                "passages-differ",
                f"another passage ({other.direction}) shows it at {other.speed_rpm:.0f} r/min with "
                f"a factor of {shown}",
            )
            best = replace(best, doubts=(*best.doubts, doubt))
    return best


def _no_passage(points: ResponsePoints) -> Doubt:
    speed = points.speed_rpm[np.isfinite(points.speed_rpm) & np.isfinite(points.vectors)]
    if len(speed) == 0:
        return Doubt("no-vectors", "there is no revolution with a 1X vector")
    return Doubt(
        "no-passage",
        f"the speed stays between {speed.min():.0f} and {speed.max():.0f} r/min: no passage "
        f"through speeds, so no critical speed can show",
    )

"""The rows of the ruler of linear ranges: what each tells, and where it stands."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import QRectF

if TYPE_CHECKING:
    from analysis.model.position_results import ProbePosition, RangeUse
    from analysis.model.setup import Setup

    from .position_words import RangeState

LINE: Final = 10.2
"""Height of the line of one stretch of time, so that its figures can be read, pixels."""

_PAD = 2.0


@dataclass(frozen=True, eq=False)
class RulerView:
    """What the ruler shows: probes in the setup's order; `states` by name; which one is chosen."""

    probes: tuple[ProbePosition, ...]
    setup: Setup
    chosen: str | None
    states: Mapping[str, RangeState]


@dataclass(frozen=True, eq=False)
class RulerLine:
    """One stretch of time of a probe: `which` is `capture`, `span` or `moment`."""

    which: str
    use: RangeUse | None
    box: QRectF


@dataclass(frozen=True, eq=False)
class RulerRow:
    """A probe with its place from top to bottom, over the data area's whole width."""

    place: int
    probe: ProbePosition
    box: QRectF
    lines: tuple[RulerLine, ...]


def ruler_rows(view: RulerView, area: QRectF) -> tuple[RulerRow, ...]:
    """One row a probe.

    Where there is no room for all stretches, capture and moment stay, then the capture alone.
    """
    if not view.probes:
        return ()
    height = area.height() / len(view.probes)
    with_span = any(each.chosen is not None for each in view.probes)
    wanted = ["capture", "span", "moment"] if with_span else ["capture", "moment"]
    room = max(int((height - _PAD) / LINE), 1)
    if room < len(wanted):
        wanted = ["capture", "moment"] if room >= 2 else ["capture"]
    rows = []
    for place, probe in enumerate(view.probes):
        box = QRectF(area.left(), area.top() + place * height, area.width(), height)
        each = min((height - _PAD) / len(wanted), 16.0)
        top = box.center().y() - each * len(wanted) / 2.0
        lines = tuple(
            RulerLine(
                which, _use(probe, which), QRectF(box.left(), top + i * each, box.width(), each)
            )
            for i, which in enumerate(wanted)
        )
        rows.append(RulerRow(place, probe, box, lines))
    return tuple(rows)


def _use(probe: ProbePosition, which: str) -> RangeUse | None:
    return {"capture": probe.capture, "span": probe.chosen, "moment": probe.moment}[which]

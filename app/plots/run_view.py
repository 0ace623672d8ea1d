"""What the pictures of a run are given, and what they share in drawing it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

import numpy as np
from PySide6.QtCore import Qt
from PySide6.QtGui import QColor, QPen

from analysis.rotor.vectors import amplitude_and_lag

from .axes import plain_number
from .palette import Palette, Theme, palette
from .style import blend, line, probe_colour
from .wording import length_number, length_text, setting_text

if TYPE_CHECKING:
    from analysis.model.response_results import CriticalSpeed, Direction, SlowRoll
    from analysis.model.units import LengthUnit
    from analysis.views.references import ReferenceLine
    from analysis.views.run_traces import RunAxis, RunTrace

ARROWS: dict[Direction, str] = {"up": "↑", "down": "↓", "unknown": ""}
_DOWN_SHARE = 0.55
"""Coast-downs are drawn in a lighter tint of their probe's colour."""

_RAW_SHARE = 0.8
_OTHER_SHARE = 0.75

CurveKind = Literal["main", "raw", "other"]


@dataclass(frozen=True)
class CriticalMark:
    """A critical speed of a probe or a direction."""

    probe: str
    critical: CriticalSpeed


@dataclass(frozen=True, eq=False)
class RunView:
    """What the pictures of a run show. `places` are those of the probes in the setup (colours).

    `others` are passages of another capture laid under these; `slow_rolls` hold what is taken off,
    `None` for nothing.
    """

    traces: tuple[RunTrace, ...]
    places: Mapping[str, int]
    order: int = 1
    axis: RunAxis = "speed"
    criticals: tuple[CriticalMark, ...] = ()
    operating_rpm: tuple[float, float] | None = None
    references: tuple[ReferenceLine, ...] = ()
    slow_rolls: Mapping[str, SlowRoll | None] = field(default_factory=dict)
    others: tuple[RunTrace, ...] = ()
    other_name: str = ""
    other_slow_rolls: Mapping[str, SlowRoll | None] = field(default_factory=dict)
    raw_shown: bool = True
    wrapped: bool = False

    def place(self, probe: str) -> int:
        """Place of a probe in the setup; 0 for others."""
        return self.places.get(probe, 0)


@dataclass(frozen=True)
class CurveStyle:
    """How a curve is drawn: by probe, direction and what it is."""

    place: int
    direction: Direction
    kind: CurveKind = "main"

    def ink(self, theme: Theme) -> QColor:
        """Colour of the curve and of its words."""
        hue, card = probe_colour(self.place, theme), palette(theme).card
        if self.kind == "raw":
            return blend(hue, card, _RAW_SHARE * (_DOWN_SHARE if self.direction == "down" else 1.0))
        if self.kind == "other":
            return blend(hue, card, _OTHER_SHARE)
        return blend(hue, card, _DOWN_SHARE) if self.direction == "down" else hue

    def pen(self, theme: Theme) -> QPen:
        """Solid as compensated, dotted as measured, dashed of another capture."""
        pens = {"main": Qt.PenStyle.SolidLine, "raw": Qt.PenStyle.DotLine}
        return line(self.ink(theme), pens.get(self.kind, Qt.PenStyle.DashLine))


def trace_name(trace: RunTrace, traces: tuple[RunTrace, ...]) -> str:
    """`DE-X ↑`; without an arrow where the probe has one passage only."""
    alone = sum(each.probe == trace.probe for each in traces) == 1
    arrow = "" if alone else ARROWS[trace.direction]
    return f"{trace.probe} {arrow}".strip()


def index_at(trace: RunTrace, time_s: float) -> int | None:
    """Place of the point of a trace at a time; `None` where the trace does not reach it."""
    time = trace.time_s
    if len(time) == 0 or not np.isfinite(time).all():
        return None
    if not time.min() <= time_s <= time.max():
        return None
    return int(np.argmin(np.abs(time - time_s)))


def point_text(trace: RunTrace, index: int, unit: LengthUnit, traces: tuple[RunTrace, ...]) -> str:
    """The reading of a point: `DE-X ↑ 3128 r/min · 129.7 µm p-p ∠ 162° · 39.5 s`."""
    amplitude, lag = amplitude_and_lag(complex(trace.vectors[index]))
    words = [
        f"{trace_name(trace, traces)} {plain_number(float(trace.speed_rpm[index]), 0)} r/min",
        f"{length_text(amplitude, unit)} p-p ∠ {lag_text(lag)}",
    ]
    if np.isfinite(trace.time_s[index]):
        words.append(f"{plain_number(float(trace.time_s[index]), 1)} s")
    return " · ".join(words)


def lag_text(degrees: float) -> str:
    """A phase lag in whole degrees, 0° up to but not 360°, also after rounding."""
    return f"{round(degrees) % 360}°"


def critical_text(critical: CriticalSpeed, *, short: bool = False) -> str:
    """`3128 r/min, AF 7.6, margin 33 %`; a question mark where something is doubtful."""
    factor = critical.amplification_factor
    words = [f"{plain_number(critical.speed_rpm, 0)} r/min"]
    words.append("AF not known" if factor is None else f"AF {plain_number(factor, 1)}")
    margin = critical.separation_margin_percent
    if margin is not None and not short:
        inside = margin <= 0.0
        words.append("in operating range" if inside else f"margin {plain_number(margin, 0)} %")
    return ", ".join(words) + (" ?" if critical.doubts else "")


def reference_text(reference: ReferenceLine, unit: LengthUnit) -> str:
    """`alarm 95 µm, p-p unfiltered`, `zone A/B`; a limit that is raised somewhere by its least."""
    if reference.kind == "zone":
        return reference.name
    level = setting_text(float(np.nanmin(reference.level_um)), unit)
    tail = ", p-p unfiltered" if reference.name.endswith("(p-p)") else ""
    of = reference.name.partition(reference.kind)[0]  # a probe, where it is not of all
    return f"{of}{reference.kind} {level}{tail}"


def slow_roll_text(view: RunView, unit: LengthUnit) -> str:
    """What is taken off, with its value: always to be seen beside compensated amplitudes."""
    names = list(dict.fromkeys(trace.probe for trace in view.traces))
    words = [_taken_off(names, view.slow_rolls, unit)]
    others = list(dict.fromkeys(trace.probe for trace in view.others))
    if others:
        words.append(f"{view.other_name}: {_taken_off(others, view.other_slow_rolls, unit)}")
    return " · ".join(filter(None, words))


def _taken_off(
    names: list[str], slow_rolls: Mapping[str, SlowRoll | None], unit: LengthUnit
) -> str:
    off = {name: slow_rolls.get(name) for name in names}
    taken = {name: each for name, each in off.items() if each is not None}
    if not taken:
        return "slow roll not taken off" if names else ""
    words = []
    for name, each in taken.items():
        amplitude, lag = amplitude_and_lag(each.vector)
        words.append(f"{name} {length_number(amplitude, unit)} ∠ {lag_text(lag)}")
    speeds = {round(each.speed_rpm) for each in taken.values() if each.speed_rpm is not None}
    at = f" at {min(speeds)} r/min" if len(speeds) == 1 else ""
    text = f"slow roll taken off{at}: {', '.join(words)} {unit.value} p-p"
    missing = [name for name in names if name not in taken]
    return text + (f" · not off: {', '.join(missing)}" if missing else "")


def muted(colours: Palette) -> QColor:
    """The ink of what is beside the point."""
    return QColor(colours.muted)

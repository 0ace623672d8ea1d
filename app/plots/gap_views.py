"""What a picture against gap shows: lines, tolerances across, parts of the gap."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

Measure = Literal["volts", "factor", "length", "percent"]


@dataclass(frozen=True)
class Series:
    """One line. `ink` is a probe's place, or `None` for the one that stands back.

    `beyond` tells of each point whether it fails; `slopes` are the local slopes there, mV/µm.
    """

    name: str
    x: tuple[float, ...]
    y: tuple[float, ...]
    ink: int | None = 0
    dashed: bool = False
    marks: bool = True
    beyond: tuple[bool, ...] = ()
    slopes: tuple[float, ...] = ()


@dataclass(frozen=True)
class Level:
    """A value across: a tolerance, or what is nominal. `name` goes before the value."""

    value: float
    name: str = ""
    tolerance: bool = True


@dataclass(frozen=True)
class Zone:
    """A part of the gap: filled for what is usable, two lines for what is judged.

    Its `name` is written into the picture, where there is one.
    """

    low: float
    high: float
    name: str = ""
    filled: bool = False


@dataclass(frozen=True)
class ChartView:
    """Everything shown. `note` stands in the middle where there is no line."""

    series: tuple[Series, ...] = ()
    levels: tuple[Level, ...] = ()
    zones: tuple[Zone, ...] = ()
    note: str = ""
    x_ends: tuple[float, float] = (0.0, 2500.0)
    words: dict[str, str] = field(default_factory=dict)

"""Which settings stand as lines in the picture of a level, and what is written on them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from .limit_words import Side, bounds_of, changed_words, manner_words, probes_text, value_text
from .style import state_mark
from .wording import setting_text

if TYPE_CHECKING:
    from analysis.model.setup import Level, Limit, Setup
    from analysis.model.units import LengthUnit

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class LevelLine:
    """One side of one limit as a line.

    `role`: `"active"` is tried now, or in force where nothing else is tried; `"in_force"` is what
    a trial differs from. `raised_um` is the value within the window of the multiplier.
    """

    index: int
    side: Side
    level: Level
    role: Literal["active", "in_force"]
    value_um: float
    raised_um: float | None
    draggable: bool
    chosen: bool
    limit: Limit
    other: Limit | None
    mentions_probes: bool

    def text(self, unit: LengthUnit) -> str:
        """The label, such as `◆ trip 125 µm · 1 s · latching`."""
        if self.role == "in_force":
            words = [f"in force {self._setting(unit)}"]
            if self.other is not None:
                words += changed_words(self.limit, self.other, unit)
            return " · ".join(words)
        name = f"{probes_text(self.limit)} {self.level}" if self.mentions_probes else self.level
        trial = " on trial" if self.other is not None else ""
        words = [f"{state_mark(self.level)[0]} {name}{trial} {self._setting(unit)}"]
        words += manner_words(self.limit, unit)
        if self.other is not None and self._same_value():
            changed = changed_words(self.other, self.limit, unit)
            if changed:
                words.append(f"in force: {', '.join(changed)}")
        return " · ".join(words)

    def _setting(self, unit: LengthUnit) -> str:
        text = setting_text(self.value_um, unit)
        if self.limit.region is not None:
            if self.side == "below":
                return f"1X under {text}"
            return f"1X outside {value_text(self.limit, unit)}"
        return f"below {text}" if self.side == "below" else text

    def _same_value(self) -> bool:
        return self.other is not None and bounds_of(self.other).get(self.side) == self.value_um


def companions(setup: Setup, index: int) -> tuple[int, ...]:
    """The limits that look at the same measure of one of the chosen limit's probes at least."""
    chosen = setup.limit[index]
    kinds = {"1x", "1x_vector"}

    def alike(other: Limit) -> bool:
        same = other.measure == chosen.measure or {other.measure, chosen.measure} <= kinds
        return same and not set(other.probes).isdisjoint(chosen.probes)

    return tuple(place for place, other in enumerate(setup.limit) if alike(other))


def level_lines(setup: Setup, trial: Setup | None, index: int) -> tuple[LevelLine, ...]:
    """The lines to draw, the chosen limit's first; a trial with another number of limits is none.

    Of a limit that is tried with another value, both lines are there.
    """
    tried = trial if trial is not None and len(trial.limit) == len(setup.limit) else setup
    chosen_probes = tried.limit[index].probes
    found: list[LevelLine] = []
    for place in companions(tried, index):
        active, in_force = tried.limit[place], setup.limit[place]
        differs = active != in_force
        mentions = active.probes != chosen_probes
        bounds = bounds_of(active)
        for side, value in bounds.items():
            found.append(
                _line(
                    place,
                    side,
                    value,
                    "active",
                    active,
                    in_force if differs else None,
                    place == index,
                    mentions,
                )
            )
        for side, value in bounds_of(in_force).items():
            if differs and bounds.get(side) != value:
                found.append(
                    _line(
                        place, side, value, "in_force", in_force, active, place == index, mentions
                    )
                )
    return tuple(sorted(found, key=lambda each: (not each.chosen, each.role != "active")))


def _line(
    index: int,
    side: Side,
    value: float,
    role: Literal["active", "in_force"],
    limit: Limit,
    other: Limit | None,
    chosen: bool,
    mentions: bool,
) -> LevelLine:
    raised = None
    if limit.multiplier is not None and side == "above" and limit.measure in ("peak_to_peak", "1x"):
        raised = value * limit.multiplier.factor
    draggable = role == "active" and limit.region is None
    return LevelLine(
        index, side, limit.level, role, value, raised, draggable, chosen, limit, other, mentions
    )


def raised_runs(limit: Limit, time_s: Floats, speed_rpm: Floats) -> list[tuple[float, float]]:
    """When the multiplier of a limit is in force, as starts and ends in s."""
    if limit.multiplier is None or len(time_s) == 0:
        return []
    low, high = limit.multiplier.rpm
    inside = (speed_rpm >= low) & (speed_rpm <= high)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], inside, [False]]).astype(np.int8)))
    last = len(time_s) - 1
    return [
        (float(time_s[start]), float(time_s[min(stop, last)]))
        for start, stop in zip(edges[0::2], edges[1::2], strict=True)
    ]

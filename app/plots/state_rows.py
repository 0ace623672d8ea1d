"""Which limits get a row in the picture of the states, and where it lies."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from PySide6.QtCore import QRectF

from .limit_words import delay_text, limit_name, quantity, value_text

if TYPE_CHECKING:
    from analysis.model.replay_results import ReplayResult, StateRun
    from analysis.model.setup import Limit
    from analysis.model.units import LengthUnit

LANE = 20.0
"""Height of the strip of resets, pixels."""

LEAST_ROW = 15.0
_LEAST_CALM, _LEAST_TRIED = 13.0, 31.0
"""Without states to name a row may be lower; with two ribbons it must have room for two names."""

_MOST_STRETCH = 2.6


@dataclass(frozen=True, eq=False)
class StateRow:
    """One limit: its states as tried or in force, and those in force where they are others."""

    index: int
    limit: Limit
    runs: tuple[StateRun, ...]
    in_force: Limit | None
    in_force_runs: tuple[StateRun, ...]
    chosen: bool

    @property
    def tried(self) -> bool:
        """Whether other settings are tried."""
        return self.in_force is not None

    @property
    def calm(self) -> bool:
        """Whether nothing ever happens here."""
        runs = (*self.runs, *self.in_force_runs)
        return not self.tried and all(run.state == "normal" for run in runs)

    def name(self, most: int = 2) -> str:
        """Mark, probes and level."""
        return limit_name(self.limit, most)

    @property
    def least(self) -> float:
        """The least height of the row, pixels."""
        if self.tried:
            return _LEAST_TRIED
        return _LEAST_CALM if self.calm and not self.chosen else LEAST_ROW

    def names(self) -> tuple[str, ...]:
        """Its name in many words and in few."""
        few = self.name(1)
        return self.name(2), few, few.removesuffix(f" {quantity(self.limit.measure)}")

    def setting(self, unit: LengthUnit) -> str:
        """The setting in few words: `125 µm · 1 s`."""
        return f"{value_text(self.limit, unit)} · {delay_text(self.limit.delay_s)}"


@dataclass(frozen=True, eq=False)
class PlacedRow:
    """A row with its places, pixels: all of it, the ribbon, and the ribbon in force below."""

    row: StateRow
    box: QRectF
    ribbon: QRectF
    in_force_ribbon: QRectF | None


def state_rows(
    in_force: ReplayResult, trial: ReplayResult | None, chosen: int | None
) -> tuple[StateRow, ...]:
    """One row a limit, in the setup's order; a trial with another number of limits is none."""
    tried = trial if trial is not None and len(trial.states) == len(in_force.states) else in_force
    rows = []
    for index, runs in enumerate(tried.states):
        limit, before = tried.setup.limit[index], in_force.setup.limit[index]
        differs = limit != before
        rows.append(
            StateRow(
                index,
                limit,
                runs,
                before if differs else None,
                in_force.states[index] if differs else (),
                index == chosen,
            )
        )
    return tuple(rows)


def placed_rows(
    rows: Sequence[StateRow], area: QRectF
) -> tuple[tuple[PlacedRow, ...], tuple[StateRow, ...]]:
    """The rows that fit below the strip of resets, and those that do not.

    Where there is not room for all, the chosen limit stays, then those to which something
    happens, in the setup's order.
    """
    room = max(area.height() - LANE, LEAST_ROW)
    order = sorted(rows, key=lambda row: (not row.chosen, not row.tried, row.calm, row.index))
    kept, used = [], 0.0
    for row in order:
        used += row.least
        if kept and used > room - (LEAST_ROW if len(kept) + 1 < len(rows) else 0.0):
            break
        kept.append(row)
    left_out = tuple(row for row in rows if row not in kept)
    if left_out:
        room -= LEAST_ROW  # for the words about them
    stretch = min(_MOST_STRETCH, room / max(sum(row.least for row in kept), 1.0))
    placed, top = [], area.top() + LANE
    for row in sorted(kept, key=lambda row: row.index):
        tall = stretch * row.least
        placed.append(_placed(row, QRectF(area.left(), top, area.width(), tall)))
        top += tall
    return tuple(placed), left_out


def _placed(row: StateRow, box: QRectF) -> PlacedRow:
    air = 2.0 if box.height() < 20.0 else 4.0
    inner = box.adjusted(0.0, air, 0.0, -air)
    if not row.tried:
        return PlacedRow(row, box, inner, None)
    upper = inner.height() * 0.5 - 1.0
    ribbon = QRectF(inner.left(), inner.top(), inner.width(), upper)
    lower = QRectF(
        inner.left(), inner.top() + upper + 2.0, inner.width(), inner.height() - upper - 2
    )
    return PlacedRow(row, box, ribbon, lower)


def left_out_words(rows: Sequence[StateRow]) -> tuple[str, ...]:
    """What the rows that do not fit have to tell, in many words and in few."""
    lively = sum(not row.calm for row in rows)
    more = f"{len(rows)} more limit{'s' if len(rows) > 1 else ''}"
    if not lively:
        return f"{more}, normal throughout", f"{more}, normal", more
    some = f"{more}, {lively} of them not always normal"
    return f"{some}: make the picture higher", some, f"{more}, {lively} not normal", more

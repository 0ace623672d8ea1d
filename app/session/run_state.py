"""What the reader wants to see of a run: probes, order, slow roll, cascade, what is laid over."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Literal

from PySide6.QtCore import QObject, Signal

RunAxis = Literal["speed", "time"]
CascadeScale = Literal["dB", "linear"]
PathKind = Literal["vectors", "centreline"]

DEFAULT_BANDWIDTH_HZ = 4.0


@dataclass(frozen=True)
class SlowRollWish:
    """Which slow-roll vectors are taken off: proposed ones unless something else is said.

    `at_rpm`: read at this speed. `vectors`: typed ones by probe and order, `A exp(-jφ)`, µm p-p.
    """

    take_off: bool = True
    at_rpm: float | None = None
    vectors: Mapping[tuple[str, int], complex] = field(default_factory=dict, hash=False)


@dataclass(frozen=True)
class CascadeWish:
    """Which cascade is wanted. `of` is a plane (two-sided) or a probe; `None`: the first plane.

    `passage` counts the runs up and down; `None` is the longest.
    """

    of: str | None = None
    over: RunAxis = "speed"
    frequency: Literal["orders", "hz"] = "orders"
    scale: CascadeScale = "dB"
    style: Literal["picture", "lines"] = "picture"
    passage: int | None = None


@dataclass(frozen=True)
class RunChoices:
    """Everything that can be chosen on the Run page. `None` stands for what fits best.

    `bandwidth_hz`: vectors by the order filter of this width; `None`: by the turn.
    `smoothing_turns`: turns that the figures beside the plain ones are averaged over; 1 for none.
    `path`: that of the vectors, or that of the mean shaft position.
    """

    probes: tuple[str, ...] | None = None
    order: int = 1
    axis: RunAxis = "speed"
    path: PathKind = "vectors"
    wrapped: bool = False
    raw_shown: bool = True
    slow_roll: SlowRollWish = field(default_factory=SlowRollWish)
    bandwidth_hz: float | None = None
    smoothing_turns: int = 5
    references: frozenset[str] = frozenset({"limits"})
    operating_rpm: tuple[float, float] | None = None
    cascade: CascadeWish = field(default_factory=CascadeWish)


class RunState(QObject):
    """The choices, changed a few at a time; `changed` carries the names of those that differ."""

    changed = Signal(object)

    def __init__(self) -> None:
        super().__init__()
        self._now = RunChoices()

    @property
    def now(self) -> RunChoices:
        """The choices as they stand."""
        return self._now

    def set(self, **changes: Any) -> None:
        """Change the choices named; those that are as wanted already are no change."""
        differing = {name for name, value in changes.items() if getattr(self._now, name) != value}
        if differing:
            self._now = replace(self._now, **{name: changes[name] for name in differing})
            self.changed.emit(frozenset(differing))

    def set_cascade(self, **changes: Any) -> None:
        """Change parts of the cascade's choice."""
        self.set(cascade=replace(self._now.cascade, **changes))

    def set_slow_roll(self, **changes: Any) -> None:
        """Change parts of what is taken off."""
        self.set(slow_roll=replace(self._now.slow_roll, **changes))

    def toggle_reference(self, name: str) -> None:
        """Show a reference, or hide it."""
        self.set(references=self._now.references ^ {name})

    def forget(self) -> None:
        """Another machine: what named its probes, planes and speeds means nothing any more."""
        self.set(
            probes=None,
            slow_roll=SlowRollWish(take_off=self._now.slow_roll.take_off),
            operating_rpm=None,
            cascade=replace(self._now.cascade, of=None, passage=None),
        )

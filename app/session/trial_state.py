"""Settings on trial: what the limits would be, beside what they are; and the limit looked at."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QObject, Signal

if TYPE_CHECKING:
    from analysis.model.setup import Limit, Setup


class TrialState(QObject):
    """The limits in force and those on trial, by their place in the setup.

    Nothing here is ever written anywhere: a trial lasts as long as the setup that it is tried on.
    `changed` comes when a setting on trial has changed, `chosen_changed` when another limit is
    looked at.
    """

    changed = Signal()
    chosen_changed = Signal()

    def __init__(self) -> None:
        super().__init__()
        self._in_force: Setup | None = None
        self._limits: tuple[Limit, ...] = ()
        self._setup: Setup | None = None
        self._chosen: int | None = None

    @property
    def in_force(self) -> Setup | None:
        """The setup with the settings in force."""
        return self._in_force

    @property
    def setup(self) -> Setup | None:
        """The setup with the settings on trial; `None` while they are those in force."""
        return self._setup

    @property
    def limits(self) -> tuple[Limit, ...]:
        """The limits as they are on trial."""
        return self._limits

    @property
    def chosen(self) -> int | None:
        """The limit looked at; `None` until there is one."""
        return self._chosen

    def is_tried(self, index: int) -> bool:
        """Whether a limit on trial differs from the one in force."""
        setup = self._in_force
        return (
            setup is not None
            and 0 <= index < len(self._limits)
            and self._limits[index] != setup.limit[index]
        )

    def tried(self) -> tuple[int, ...]:
        """The limits that differ from those in force."""
        return tuple(index for index in range(len(self._limits)) if self.is_tried(index))

    def set_in_force(self, setup: Setup | None, *, keep_chosen: bool = False) -> None:
        """Another setup is in force: nothing is on trial. `keep_chosen` is for the same limits."""
        count = len(setup.limit) if setup is not None else 0
        kept = self._chosen if keep_chosen and self._chosen is not None else None
        self._in_force = setup
        self._limits = setup.limit if setup is not None else ()
        self._setup = None
        self._chosen = kept if kept is not None and kept < count else None
        self.changed.emit()
        self.chosen_changed.emit()

    def choose(self, index: int) -> None:
        """Look at a limit."""
        if 0 <= index < len(self._limits) and index != self._chosen:
            self._chosen = index
            self.chosen_changed.emit()

    def change(self, index: int, **changes: Any) -> bool:
        """Try other settings of a limit; those that no limit can have change nothing.

        Returns whether they could be taken.
        """
        if not 0 <= index < len(self._limits):
            return False
        known = self._limits[index]
        try:
            limit = type(known).model_validate({**known.model_dump(), **changes})
        except ValueError:
            return False
        self._put(index, limit)
        return True

    def back(self, index: int | None = None) -> None:
        """Take a limit, or all of them, back to the settings in force."""
        if self._in_force is None:
            return
        if index is None:
            self._set(self._in_force.limit)
        elif 0 <= index < len(self._limits):
            self._put(index, self._in_force.limit[index])

    def _put(self, index: int, limit: Limit) -> None:
        self._set((*self._limits[:index], limit, *self._limits[index + 1 :]))

    def _set(self, limits: tuple[Limit, ...]) -> None:
        if limits == self._limits or self._in_force is None:
            return
        self._limits = limits
        same = limits == self._in_force.limit
        self._setup = None if same else self._in_force.model_copy(update={"limit": limits})
        self.changed.emit()

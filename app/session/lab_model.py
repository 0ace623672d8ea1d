"""What the Lab is set to, and what that looks like."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QObject, QTimer, Signal

from analysis.simulate.lab import LabResult, compose
from analysis.simulate.lab_recipe import recipe_of
from analysis.simulate.lab_state import LabProbe, LabState

if TYPE_CHECKING:
    from analysis.model.setup import Setup

    from .lab_fields import LabField

FRAME_MS = 15
"""Pictures follow a drag at most as often as a screen shows them."""


class LabModel(QObject):
    """Owner of the Lab's state. It belongs to no capture, and outlives them.

    `changed` comes at once, for the controls; `drawn_anew(fit)` once a frame, for the pictures:
    `fit` asks them to choose their scale again. `refused(sentence)` tells why a value was not
    taken, `""` that all is well again. Composing takes a millisecond or so: it is done here, in the
    GUI thread, where handing it to another thread and back would take longer.
    """

    changed = Signal()
    drawn_anew = Signal(bool)
    refused = Signal(str)

    def __init__(self, state: LabState | None = None) -> None:
        super().__init__()
        self._state = state or LabState()
        self._result: LabResult | None = None
        self._fit = False
        self._frame = QTimer(self)
        self._frame.setSingleShot(True)
        self._told_at = 0.0
        self._frame.timeout.connect(self._tell_pictures)

    @property
    def state(self) -> LabState:
        """What the Lab is set to."""
        return self._state

    @property
    def result(self) -> LabResult:
        """What the state looks like."""
        if self._result is None or self._result.state is not self._state:
            self._result = compose(self._state)
        return self._result

    @property
    def setup(self) -> Setup:
        """The setup that a saved capture of this state has."""
        state = self._state
        return setup_of(state.probes, state.rotation_set == "ccw", state.clearance_um)

    def is_drawing(self) -> bool:
        """Whether the pictures are to be drawn anew in a moment."""
        return self._frame.isActive()

    def set_field(self, field: LabField, value: float) -> None:
        """Another value of one number."""
        self.change(lambda state: field.put(state, value))

    def set(self, **parts: Any) -> None:
        """Other values of fields of the state."""
        self.change(lambda state: replace(state, **parts))

    def change(self, to: Callable[[LabState], LabState]) -> None:
        """Another state, made of this one; a state that cannot be changes nothing but the words."""
        try:
            state = to(self._state)
        except ValueError as error:
            self.refused.emit(_sentence(error))
            # The control shows a value that does not hold: it has to be told the one that does.
            self.changed.emit()
            return
        self.refused.emit("")
        self._take(state)

    def load(self, state: LabState) -> None:
        """A state of its own, as out of the gallery: the pictures choose their scale anew."""
        self._fit = True
        self.refused.emit("")
        self._take(state, always=True)

    def _take(self, state: LabState, *, always: bool = False) -> None:
        if state == self._state and not always:
            return
        self._state = state
        self.changed.emit()
        if not self._frame.isActive():
            # From the last frame on, not from now: drawing takes a good part of one.
            passed_ms = round(1000.0 * (time.monotonic() - self._told_at))
            self._frame.start(max(FRAME_MS - passed_ms, 0))

    def _tell_pictures(self) -> None:
        self._told_at = time.monotonic()
        fit, self._fit = self._fit, False
        self.drawn_anew.emit(fit)


@lru_cache(maxsize=8)
def setup_of(probes: tuple[LabProbe, LabProbe], ccw: bool, clearance_um: float) -> Setup:
    """The setup of a saved capture; everything that it depends on is named here."""
    state = LabState(probes=probes, rotation="ccw" if ccw else "cw", clearance_um=clearance_um)
    return recipe_of(state).setup


def _sentence(error: ValueError) -> str:
    text = str(error).splitlines()[-1] if "validation error" in str(error) else str(error)
    return text[:1].upper() + text[1:].rstrip(".") + "."

"""Slow roll is kept in a setup file: only when asked for, and after a caution."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QWidget

from analysis.rotor.vectors import amplitude_and_lag
from analysis.views.runout import setup_with, vectors_of
from app.widgets import words

from .write_setup import WriteSetupDialog, ask_to_write_setup

if TYPE_CHECKING:
    from analysis.model.response_results import SlowRoll
    from analysis.model.setup import Setup
    from analysis.model.units import LengthUnit
    from app.session.session import Session

KEEP_CAUTION = (
    "A slow-roll vector holds for one probe, one shaft and one phase reference. After work on any "
    "of them it is taken anew. Runout above what the machine's standard allows is mended, not "
    "taken off."
)


def ask_to_keep(parent: QWidget, session: Session) -> WriteSetupDialog | None:
    """Write the vectors that are taken off the run to a setup file, after asking."""
    result, setup = session.run.result, session.capture.setup
    if result is None or setup is None:
        return None
    off = {
        name: (each.slow_roll,)
        for name, each in result.responses.items()
        if each.slow_roll is not None
    }
    return _ask(parent, session, setup, off)


def ask_to_keep_runout(parent: QWidget, session: Session) -> WriteSetupDialog | None:
    """Write the orders of the runout that is taken off waveforms to a setup file, after asking."""
    waves, setup = session.choice.now.runout, session.capture.setup
    if setup is None:
        return None
    return _ask(parent, session, setup, vectors_of(waves))


def _ask(
    parent: QWidget, session: Session, setup: Setup, off: Mapping[str, tuple[SlowRoll, ...]]
) -> WriteSetupDialog | None:
    if not off:
        return None
    return ask_to_write_setup(
        parent,
        session,
        setup_with(setup, off),
        [keep_line(name, each, session.unit.unit) for name, kept in off.items() for each in kept],
        title="Keep the slow-roll vectors in a setup",
        caution=KEEP_CAUTION,
        what="The slow-roll vectors are",
    )


def keep_line(name: str, slow_roll: SlowRoll, unit: LengthUnit) -> str:
    """What would be written of a probe."""
    amplitude, lag = amplitude_and_lag(slow_roll.vector)
    at = "" if slow_roll.speed_rpm is None else f" at {words.number(slow_roll.speed_rpm, 0)} r/min"
    size = f"{words.length(amplitude, unit)} {unit.value} p-p"
    return f"{name}: {slow_roll.order}X {size} ∠ {words.lag(lag)}{at}"

"""What the Run page asks its reader in dialogs."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtWidgets import QDialog, QFileDialog, QWidget

from analysis.model.response_results import SlowRoll
from analysis.model.setup import Setup, SlowRollVector
from analysis.model.units import LengthUnit
from analysis.rotor.vectors import amplitude_and_lag
from app.dialogs.slow_roll import OperatingRangeDialog, SlowRollDialog
from app.dialogs.write_limits import WriteLimitsDialog, proposed_path, write_limits
from app.session.session import Session
from app.widgets import words

KEEP_CAUTION = (
    "A slow-roll vector holds for one probe, one shaft and one phase reference. After work on any "
    "of them it is taken anew. Runout above what the machine's standard allows is mended, not "
    "taken off."
)


def ask_to_type(parent: QWidget, session: Session, shown: tuple[str, ...]) -> QDialog | None:
    """Type the vectors of the probes shown, of the order shown."""
    result = session.run.result
    if result is None or not shown:
        return None
    off = {name: result.responses[name].slow_roll for name in shown}
    vectors = {name: each.vector if each is not None else None for name, each in off.items()}
    dialog = SlowRollDialog(result.request.order, vectors, session.unit.unit, parent)

    def take() -> None:
        wish = session.run_choice.now.slow_roll
        typed = {**wish.vectors, **dialog.vectors()}
        session.run_choice.set_slow_roll(take_off=True, at_rpm=None, vectors=typed)

    return _open(dialog, take)


def ask_operating_range(parent: QWidget, session: Session) -> QDialog:
    """Give another operating range, for this look."""
    now, setup = session.run_choice.now.operating_rpm, session.capture.setup
    if now is None and setup is not None:
        now = setup.machine.operating_rpm
    dialog = OperatingRangeDialog(now, parent)
    return _open(dialog, lambda: session.run_choice.set(operating_rpm=dialog.operating_rpm()))


def ask_to_keep(parent: QWidget, session: Session) -> QDialog | None:
    """Write the vectors that are taken off to a setup file, after asking."""
    result, setup = session.run.result, session.capture.setup
    if result is None or setup is None:
        return None
    order = result.request.order
    off = {
        name: each.slow_roll
        for name, each in result.responses.items()
        if each.slow_roll is not None
    }
    if not off:
        return None
    lines = [keep_line(name, each, session.unit.unit) for name, each in off.items()]
    dialog = WriteLimitsDialog(
        lines, parent, title="Keep the slow-roll vectors in a setup", caution=KEEP_CAUTION
    )
    kept = setup_with(setup, order, off)

    def choose() -> None:
        text, _ = QFileDialog.getSaveFileName(
            parent, "Write the setup", str(proposed_path(session)), "Setups (*.toml)"
        )
        if text:
            path = Path(text)
            named = path.suffix.lower() == ".toml"
            write_limits(session, kept, path if named else path.with_name(f"{path.name}.toml"))

    return _open(dialog, choose)


def keep_line(name: str, slow_roll: SlowRoll, unit: LengthUnit) -> str:
    """What would be written of a probe."""
    amplitude, lag = amplitude_and_lag(slow_roll.vector)
    at = "" if slow_roll.speed_rpm is None else f" at {words.number(slow_roll.speed_rpm, 0)} r/min"
    size = f"{words.length(amplitude, unit)} {unit.value} p-p"
    return f"{name}: {slow_roll.order}X {size} ∠ {words.lag(lag)}{at}"


def setup_with(setup: Setup, order: int, off: dict[str, SlowRoll]) -> Setup:
    """The setup that keeps these vectors, in place of those of the same order that it had."""
    probes = []
    for probe in setup.probe:
        found = off.get(probe.name)
        if found is None:
            probes.append(probe)
            continue
        amplitude, lag = amplitude_and_lag(found.vector)
        entry = SlowRollVector(
            order=order,
            um_pp=round(amplitude, 3),
            lag_deg=round(lag, 2),
            rpm=None if found.speed_rpm is None else round(found.speed_rpm, 1),
        )
        others = tuple(each for each in probe.slow_roll if each.order != order)
        kept = tuple(sorted((*others, entry), key=lambda each: each.order))
        probes.append(probe.model_copy(update={"slow_roll": kept}))
    return setup.model_copy(update={"probe": tuple(probes)})


def _open(dialog: QDialog, then: object) -> QDialog:
    dialog.accepted.connect(then)
    dialog.finished.connect(dialog.deleteLater)
    dialog.open()
    return dialog

"""The Lab's rotor: its controls, and the pictures that go with them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from PySide6.QtGui import QHideEvent, QShowEvent
from PySide6.QtWidgets import QVBoxLayout, QWidget

from app.dialogs.lab_keep import keep
from app.session.notices import Notice
from app.session.rotor_lab import RotorLab
from app.widgets.rotor_controls import RotorControls
from app.widgets.theming import theme_of

from .lab_rotor_bench import LabRotorBench

if TYPE_CHECKING:
    from analysis.model.units import LengthUnit
    from app.plots.palette import Theme
    from app.session.lab_clock import LabClock
    from app.session.session import Session


class LabRotor(QWidget):
    """The leaf with the controls; `bench` is for beside it."""

    def __init__(self, session: Session, clock: LabClock, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.lab = RotorLab(session.runner, session.notices)
        self.bench = LabRotorBench(self.lab, clock)
        self.controls: RotorControls | None = None
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(0, 0, 0, 0)

    def building(self) -> Iterator[None]:
        """Make a part a step."""
        self.bench.set_unit(self._session.unit.unit)
        self.bench.set_theme(theme_of(self._session.theme))
        self.controls = RotorControls(self.lab)
        self.controls.set_unit(self._session.unit.unit)
        self._column.addWidget(self.controls)
        yield
        yield from self.controls.building()
        yield from self.bench.building()

    def keep(self, kind: str) -> None:
        """Save the run as a recipe or a capture, or open it on the other pages."""
        from analysis.simulate.rotor_sweep import recipe_of_run

        request = self.lab.request
        try:
            recipe = recipe_of_run(request.rotor, request.run, request.recorded)
        except ValueError as error:
            title = "This run cannot be made into a capture"
            self._session.notices.show(Notice("lab", "warning", title, f"{error}."))
            return
        keep(self, self._session, kind, recipe)

    def set_unit(self, unit: LengthUnit) -> None:
        """Show lengths in this unit."""
        if self.controls is not None:
            self.controls.set_unit(unit)
        self.bench.set_unit(unit)

    def set_theme(self, theme: Theme) -> None:
        """Dress the pictures."""
        self.bench.set_theme(theme)

    def showEvent(self, event: QShowEvent) -> None:
        """Ask for what takes longer."""
        super().showEvent(event)
        self.lab.set_watched(True)
        self.bench.refresh()

    def hideEvent(self, event: QHideEvent) -> None:
        """Nobody looks."""
        super().hideEvent(event)
        self.lab.set_watched(False)

"""Amplitude over phase, sharing the speed axis (the Bode plot of ISO 13373)."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QVBoxLayout, QWidget

from .amplitude_plot import AmplitudePlot
from .note import Note
from .phase_plot import PhasePlot

if TYPE_CHECKING:
    from .plot import Plot
    from .run_view import RunView
    from .speed_plot import SpeedPlot


class BodePlot(QWidget):
    """Two pictures that go together. `moment_requested(s)` as of either of them."""

    moment_requested = Signal(float)

    def __init__(
        self,
        amplitude: AmplitudePlot | None = None,
        phase: PhasePlot | None = None,
        parent: QWidget | None = None,
    ) -> None:
        """Of two pictures made before, or of two new ones."""
        super().__init__(parent)
        self.amplitude = amplitude or AmplitudePlot()
        self.phase = phase or PhasePlot()
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        self.note = Note()
        column.addWidget(self.note)
        column.addWidget(self.amplitude, 58)
        column.addWidget(self.phase, 42)
        for plot in self.pair():
            plot.moment_requested.connect(self.moment_requested)
            plot.part_requested.connect(self.set_part)

    def pair(self) -> tuple[SpeedPlot, SpeedPlot]:
        """Amplitude and phase."""
        return (self.amplitude, self.phase)

    def plots(self) -> tuple[Plot, ...]:
        """Every picture in it."""
        return self.pair()

    def show_result(self, view: RunView | None) -> None:
        """Draw a run in both."""
        self.show_amplitude(view)
        self.phase.show_result(view)

    def show_amplitude(self, view: RunView | None) -> None:
        """Draw the amplitude; without a run the whole room is the empty state's of it alone."""
        self.phase.setVisible(view is not None)
        self.amplitude.show_result(view)

    def set_moment(self, time_s: float | None) -> None:
        """Mark the points of this moment."""
        for plot in self.pair():
            plot.set_moment(time_s)

    def set_part(self, part: tuple[float, float] | None) -> None:
        """Show this part of the speeds in both; `None`: all."""
        for plot in self.pair():
            plot.set_part(part)

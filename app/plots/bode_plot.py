"""Amplitude over phase, sharing the speed axis (the Bode plot of ISO 13373)."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QLabel, QSizePolicy, QVBoxLayout, QWidget

from .amplitude_plot import AmplitudePlot
from .phase_plot import PhasePlot
from .plot import Plot
from .run_view import RunView
from .speed_plot import SpeedPlot


class Note(QLabel):
    """One line below the title; what does not fit is told by the tooltip."""

    def __init__(self) -> None:
        super().__init__()
        self._full = ""
        self.setProperty("role", "footer")
        self.setTextFormat(Qt.TextFormat.PlainText)
        self.setContentsMargins(10, 0, 10, 0)
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)

    def set_full_text(self, text: str) -> None:
        """Show this text, as far as it fits."""
        self._full = text
        self.setVisible(bool(text))
        self._elide()

    def full_text(self) -> str:
        """The whole text."""
        return self._full

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Cut anew."""
        super().resizeEvent(event)
        self._elide()

    def _elide(self) -> None:
        room = max(self.width() - 20, 0)
        shown = self.fontMetrics().elidedText(self._full, Qt.TextElideMode.ElideRight, room)
        if shown != self.text():
            self.setText(shown)
        self.setToolTip(self._full if shown != self._full else "")


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
        column.addWidget(self.amplitude, 64)
        column.addWidget(self.phase, 36)
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
        """Draw a run; without one the room is the empty state's of the amplitude alone."""
        self.phase.setVisible(view is not None)
        for plot in self.pair():
            plot.show_result(view)

    def set_moment(self, time_s: float | None) -> None:
        """Mark the points of this moment."""
        for plot in self.pair():
            plot.set_moment(time_s)

    def set_part(self, part: tuple[float, float] | None) -> None:
        """Show this part of the speeds in both; `None`: all."""
        for plot in self.pair():
            plot.set_part(part)

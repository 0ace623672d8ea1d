"""What the leaves of the Position page's lower right card are made of."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QHBoxLayout, QLabel, QVBoxLayout, QWidget

from app.plots.fonts import font
from app.widgets.elided import ElidedLabel
from app.widgets.segmented import Segmented

if TYPE_CHECKING:
    from app.plots.centreline_plot import CentrelinePlot, CentrelineView
    from app.plots.plot import Plot
    from app.plots.thrust_plot import ThrustPlot, ThrustView
    from app.plots.working_point_plot import WorkingPointPlot


class Captioned(QWidget):
    """A picture with its title and its words above it, as small as a leaf needs."""

    def __init__(
        self, plot: Plot, tools: tuple[QWidget, ...] = (), *, stacked: bool = False
    ) -> None:
        """`stacked`: the words stand below the title, where a picture is narrow."""
        super().__init__()
        self.plot = plot
        self.heading = QLabel()
        self.heading.setProperty("role", "title")
        self.heading.setFont(font("title"))
        self.heading.setTextFormat(Qt.TextFormat.PlainText)
        self.words = ElidedLabel()
        self.words.setProperty("role", "subtitle")
        self.words.setFont(font("small"))
        row = QHBoxLayout()
        row.setContentsMargins(10, 0, 6, 0)
        row.setSpacing(6)
        row.addWidget(self.heading)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addLayout(row)
        if stacked:
            row.addStretch(1)
            below = QHBoxLayout()
            below.setContentsMargins(10, 0, 6, 0)
            below.addWidget(self.words)
            column.addLayout(below)
        else:
            row.addWidget(self.words, 1)
        for tool in tools:
            row.addWidget(tool)
        column.addWidget(plot, 1)
        plot.titled_changed.connect(self._follow)
        self._follow()

    def _follow(self) -> None:
        self.heading.setText(self.plot.title())
        self.words.set_full_text(self.plot.subtitle())


class PointLeaf(Captioned):
    """The curve, whole or close up."""

    def __init__(self, plot: WorkingPointPlot) -> None:
        self.zoom = Segmented(
            "Curve",
            [
                ("whole curve", False, "The whole calibration curve, V against µm or mil"),
                ("close-up", True, "The surroundings of the working point, V against µm or mil"),
            ],
        )
        self.zoom.set_value(False)
        super().__init__(plot, (self.zoom,))
        self.zoom.chosen.connect(self.plot.set_close)


class CentrelineLeaf(QWidget):
    """Two planes side by side: that of the chosen probe, and the one beside it."""

    def __init__(self, *plots: CentrelinePlot) -> None:
        super().__init__()
        self.plots = plots
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(2)
        self._cells = tuple(Captioned(plot, stacked=True) for plot in self.plots)
        for cell in self._cells:
            row.addWidget(cell, 1)

    def show_views(
        self,
        views: list[CentrelineView],
        chosen: str | None,
        empty: str,
        only: int | None = None,
    ) -> None:
        """Show two of the planes, in the setup's order, the chosen probe's among them.

        `only`: draw the picture at this place alone.
        """
        place = next((i for i, v in enumerate(views) if chosen in v.plane.probes), 0)
        first = min(max(place - 1, 0), max(len(views) - 2, 0)) if place > 1 else 0
        shown = views[first : first + 2]
        for rank, (plot, cell) in enumerate(zip(self.plots, self._cells, strict=True)):
            if only not in (None, rank):
                continue
            plot.set_empty_text(empty)
            plot.show_result(shown[rank] if rank < len(shown) else None)
            cell.setVisible(rank < max(len(shown), 1))


class ThrustLeaf(QWidget):
    """An axial pair; where there are more, a choice of which."""

    def __init__(self, plot: ThrustPlot) -> None:
        super().__init__()
        self.plot = plot
        self.pairs = Segmented("Axial pair", [])
        self._names: tuple[str, ...] = ()
        self._views: list[ThrustView] = []
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(Captioned(self.plot, (self.pairs,)))
        self.pairs.chosen.connect(lambda _name: self._show())

    def show_views(self, views: list[ThrustView], empty: str) -> None:
        """Show the pair that was chosen, else the first."""
        self._views = views
        names = tuple(" / ".join(view.pair.probes) for view in views)
        if names != self._names:
            self._names = names
            self.pairs.set_options([(n, n, f"Thrust position of {n}, µm or mil") for n in names])
            self.pairs.set_value(names[0] if names else None)
            self.pairs.setVisible(len(names) > 1)
        self.plot.set_empty_text(empty)
        self._show()

    def _show(self) -> None:
        wanted = self.pairs.value()
        place = self._names.index(wanted) if wanted in self._names else 0
        self.plot.show_result(self._views[place] if place < len(self._views) else None)

"""The three checks of the Probe check page, each with its sheet and its pictures."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QGridLayout, QHBoxLayout, QSizePolicy, QVBoxLayout, QWidget

from analysis.model.units import LengthUnit
from app.plots.calibration_plots import (
    CalibrationCurvePlot,
    DeviationPlot,
    IncrementsPlot,
    LoopErrorPlot,
)
from app.plots.calibration_views import curve_view, deviation_view, increments_view, loop_view
from app.plots.card import Card
from app.plots.gap_chart import GapChart
from app.plots.gap_views import ChartView
from app.plots.plot import Plot
from app.plots.run_plot import RunPlot, RunView
from app.plots.style import Theme
from app.session.session import Session
from app.widgets.check_words import run_finding
from app.widgets.effect_panel import EffectPanel
from app.widgets.in_turns import InTurns
from app.widgets.loop_panel import LoopPanel
from app.widgets.run_panel import RunPanel
from app.widgets.table_panel import TablePanel

if TYPE_CHECKING:
    from analysis.views.probe_check import CheckAnswer

GAP = 10
LEAST_HEIGHT = 100
TABLE_WIDTH = 372


class Leaf(QWidget):
    """One check. The page tells it when to draw."""

    def __init__(self, session: Session) -> None:
        super().__init__()
        self._session = session
        self.turns = InTurns(self)

    def plots(self) -> tuple[Plot, ...]:
        """Its pictures."""
        raise NotImplementedError

    def draw(self) -> None:
        """Draw what was answered last."""
        raise NotImplementedError

    def copy(self) -> None:
        """Put the sheet on the clipboard."""
        raise NotImplementedError

    def dress(self, theme: Theme) -> None:
        """Light or dark."""
        for plot in self.plots():
            plot.set_theme(theme)

    def set_unit(self, unit: LengthUnit) -> None:
        """µm or mil."""
        for plot in self.plots():
            plot.set_unit(unit)

    def show_moment(self, moment_s: float, label: str) -> None:
        """The moment has moved."""

    def _probe_index(self) -> int:
        setup, name = self._session.capture.setup, self._session.check.probe
        names = [probe.name for probe in setup.probe] if setup is not None else []
        return names.index(name) if name in names else 0


class TableLeaf(Leaf):
    """Table and tolerances; curve, increments, deviation, and the effect of the curve."""

    def __init__(self, session: Session) -> None:
        super().__init__(session)
        self.table = TablePanel(session)
        self.table.setFixedWidth(TABLE_WIDTH)
        self.effect = EffectPanel(session)
        self.curve = CalibrationCurvePlot()
        self.increments = IncrementsPlot()
        self.deviation = DeviationPlot()
        self._fit_next = False
        grid = QGridLayout()
        grid.setSpacing(GAP)
        cards = (Card(self.curve), self.effect, Card(self.increments), Card(self.deviation))
        for place, card in enumerate(cards):
            grid.addWidget(_even(card), *divmod(place, 2))
        for line in (0, 1):
            grid.setRowStretch(line, 1)
            grid.setColumnStretch(line, 1)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(GAP)
        row.addWidget(self.table)
        row.addLayout(grid, 1)
        for plot in self.plots():
            plot.setMinimumHeight(LEAST_HEIGHT)
            plot.point_requested.connect(self.table.go_to_gap)
        self.table.gap_chosen.connect(self._mark)
        self.table.replaced.connect(self._replaced)

    def plots(self) -> tuple[Plot, ...]:
        """Curve, increments, deviation."""
        return (self.curve, self.increments, self.deviation)

    def draw(self) -> None:
        """The tables as they were judged last."""
        result = self._session.checks.result
        fitted = self._fit_next
        if result is not None and result.request.rows == self._session.check.rows:
            self._fit_next = False
        for plot, make in (
            (self.curve, curve_view),
            (self.increments, increments_view),
            (self.deviation, deviation_view),
        ):
            self.turns.add(plot, partial(self._draw_one, plot, make, fitted=fitted))

    def _draw_one(
        self,
        plot: GapChart,
        make: Callable[[CheckAnswer, int], ChartView | None],
        *,
        fitted: bool,
    ) -> None:
        result = self._session.checks.result
        view = make(result, self._probe_index()) if result is not None else None
        if fitted:
            plot.show_fitted(view)
        else:
            plot.show_result(view)

    def copy(self) -> None:
        """The table with its errors."""
        self.table.sheet.copy()

    def dress(self, theme: Theme) -> None:
        """Light or dark."""
        super().dress(theme)
        self.table.dress()
        self.effect.dress()

    def _mark(self, gap_um: float | None) -> None:
        for plot in self.plots():
            plot.set_point(gap_um)

    def _replaced(self) -> None:
        """A whole table has come: the next picture of it is scaled to it."""
        self._fit_next = True


class RunLeaf(Leaf):
    """Steps found in the capture, above the sheet of what was applied."""

    def __init__(self, session: Session) -> None:
        super().__init__(session)
        self.steps = RunPlot()
        self.steps.setMinimumHeight(LEAST_HEIGHT)
        self.run = RunPanel(session)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(GAP)
        column.addWidget(_even(Card(self.steps)), 38)
        column.addWidget(_even(self.run), 62)
        self.run.moment_wanted.connect(session.moment.set)
        self.run.table_taken.connect(lambda: session.check.set_facts(check="table"))
        self.steps.moment_requested.connect(session.moment.set)
        self.steps.span_requested.connect(session.choose_span)
        self.steps.zoom_requested.connect(session.zoom.by)
        self.steps.pan_requested.connect(session.zoom.pan)

    def plots(self) -> tuple[Plot, ...]:
        """The steps."""
        return (self.steps,)

    def draw(self) -> None:
        """The run as it was judged last."""
        session = self._session
        result = session.checks.result
        run = result.run if result is not None else None
        whole = session.moment.limits
        if run is None or whole is None:
            if session.checks.phase != "idle":
                self.steps.set_empty_text(run_finding(None, session.checks.phase).headline)
            else:
                self.steps.set_empty_text(self.steps.EMPTY)
            self.turns.add("steps", lambda: self.steps.show_result(None))
            return
        view = RunView(run, whole, self._probe_index())
        self.turns.add("steps", lambda: self.steps.show_result(view))

    def copy(self) -> None:
        """The steps with their errors."""
        self.run.sheet.copy()

    def dress(self, theme: Theme) -> None:
        """Light or dark."""
        super().dress(theme)
        self.run.dress()

    def show_moment(self, moment_s: float, label: str) -> None:
        """The moment, the part seen and the span chosen."""
        session = self._session
        if session.capture.capture is None:
            return
        self.steps.set_moment(moment_s, label)
        self.steps.set_time_range(session.zoom.seen if session.zoom.zoomed else None)
        self.steps.set_span(session.span.span)


class LoopLeaf(Leaf):
    """The loop's points beside a picture of their errors."""

    def __init__(self, session: Session) -> None:
        super().__init__(session)
        self.loop = LoopPanel(session)
        self.errors = LoopErrorPlot()
        self.errors.setMinimumHeight(LEAST_HEIGHT)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(GAP)
        row.addWidget(_even(self.loop), 58)
        row.addWidget(_even(Card(self.errors)), 42)

    def plots(self) -> tuple[Plot, ...]:
        """The errors."""
        return (self.errors,)

    def draw(self) -> None:
        """The loop as it was judged last."""
        result = self._session.checks.result
        view = loop_view(result, self._probe_index()) if result is not None else None
        self.turns.add("errors", lambda: self.errors.show_result(view))

    def copy(self) -> None:
        """The points."""
        self.loop.sheet.copy()

    def dress(self, theme: Theme) -> None:
        """Light or dark."""
        super().dress(theme)
        self.loop.dress()


def _even(widget: QWidget) -> QWidget:
    """Let the layout share the room by stretch alone, whatever the widgets would like."""
    widget.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Ignored)
    return widget

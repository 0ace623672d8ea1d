"""The three checks of the Probe check page, each with its sheet and its pictures."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QGridLayout, QHBoxLayout, QSizePolicy, QVBoxLayout, QWidget

from app.plots.calibration_plots import (
    CalibrationCurvePlot,
    DeviationPlot,
    IncrementsPlot,
    LoopErrorPlot,
)
from app.plots.calibration_views import curve_view, deviation_view, increments_view, loop_view
from app.plots.run_plot import RunPlot, RunView
from app.plots.slot import PlotSlot
from app.widgets.check_words import run_finding
from app.widgets.effect_panel import EffectPanel
from app.widgets.loop_panel import LoopPanel
from app.widgets.run_panel import RunPanel
from app.widgets.table_panel import TablePanel
from app.widgets.theming import theme_of

if TYPE_CHECKING:
    from analysis.model.units import LengthUnit
    from analysis.views.probe_check import CheckAnswer
    from app.plots.gap_chart import GapChart
    from app.plots.gap_views import ChartView
    from app.plots.plot import Plot
    from app.plots.style import Theme
    from app.session.session import Session
    from app.work.one_a_turn import OneATurn

GAP = 10
LEAST_HEIGHT = 100
TABLE_WIDTH = 372


class Leaf(QWidget):
    """One check. The page tells it when to draw.

    Its pictures are made one a turn of the event loop, or when somebody asks for one.
    """

    def __init__(self, session: Session, turns: OneATurn) -> None:
        """`turns` are the page's: two queues would share a turn now and again."""
        super().__init__()
        self._session = session
        self._turns = turns
        self._slots: list[PlotSlot] = []

    def _slot(self, make: Callable[[], Plot]) -> PlotSlot:
        slot = PlotSlot(make, self._join)
        self._slots.append(slot)
        return _even(slot)

    def parts(self) -> tuple[QWidget, ...]:
        """What is dear to paint."""
        return tuple(self._slots)

    def make_next(self) -> bool:
        """Make a picture that has not been; false when there is none left."""
        missing = [slot for slot in self._slots if not slot.made]
        if missing:
            missing[0].prepare()
        return bool(missing)

    def _join(self, plot: Plot) -> None:
        plot.setMinimumHeight(LEAST_HEIGHT)
        plot.set_unit(self._session.unit.unit)
        plot.set_theme(theme_of(self._session.theme))

    def plots(self) -> tuple[Plot, ...]:
        """Its pictures that have been made."""
        return tuple(plot for slot in self._slots for plot in slot.made)

    def _draw_later(self, slot: PlotSlot, draw: Callable[[], None]) -> None:
        """Draw a picture in a turn of its own, after the one that makes it."""
        if not slot.made:
            self._turns.put(("make", slot), slot.prepare)
        self._turns.put(slot, draw)

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

    def __init__(self, session: Session, turns: OneATurn) -> None:
        super().__init__(session, turns)
        self.table = TablePanel(session)
        self.table.setFixedWidth(TABLE_WIDTH)
        self.effect = EffectPanel(session)
        self._curve = self._slot(CalibrationCurvePlot)
        self._increments = self._slot(IncrementsPlot)
        self._deviation = self._slot(DeviationPlot)
        self._fit_next = False
        grid = QGridLayout()
        grid.setSpacing(GAP)
        cards = (self._curve, _even(self.effect), self._increments, self._deviation)
        for place, card in enumerate(cards):
            grid.addWidget(card, *divmod(place, 2))
        for line in (0, 1):
            grid.setRowStretch(line, 1)
            grid.setColumnStretch(line, 1)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(GAP)
        row.addWidget(self.table)
        row.addLayout(grid, 1)
        self.table.gap_chosen.connect(self._mark)
        self.table.replaced.connect(self._replaced)

    def parts(self) -> tuple[QWidget, ...]:
        """The panels, too."""
        return (self.table, self.effect, *super().parts())

    @property
    def curve(self) -> CalibrationCurvePlot:
        """Volts against gap."""
        return self._curve.plot

    @property
    def increments(self) -> IncrementsPlot:
        """The scale factor from row to row."""
        return self._increments.plot

    @property
    def deviation(self) -> DeviationPlot:
        """Distance from the straight line."""
        return self._deviation.plot

    def _join(self, plot: Plot) -> None:
        super()._join(plot)
        plot.point_requested.connect(self.table.go_to_gap)

    def draw(self) -> None:
        """The tables as they were judged last."""
        result = self._session.checks.result
        fitted = self._fit_next
        if result is not None and result.request.rows == self._session.check.rows:
            self._fit_next = False
        for slot, make in (
            (self._curve, curve_view),
            (self._increments, increments_view),
            (self._deviation, partial(deviation_view, stage=self._session.check.stage)),
        ):
            self._draw_later(slot, partial(self._draw_one, slot, make, fitted=fitted))

    def _draw_one(
        self,
        slot: PlotSlot,
        make: Callable[[CheckAnswer, int], ChartView | None],
        *,
        fitted: bool,
    ) -> None:
        plot: GapChart = slot.plot
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

    def __init__(self, session: Session, turns: OneATurn) -> None:
        super().__init__(session, turns)
        self._steps = self._slot(RunPlot)
        self.run = RunPanel(session)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(GAP)
        column.addWidget(self._steps, 38)
        column.addWidget(_even(self.run), 62)
        self.run.moment_wanted.connect(session.moment.set)
        self.run.table_taken.connect(lambda: session.check.set_facts(check="table"))

    def parts(self) -> tuple[QWidget, ...]:
        """The panel, too."""
        return (self.run, *super().parts())

    @property
    def steps(self) -> RunPlot:
        """The steps found in the capture."""
        return self._steps.plot

    def _join(self, plot: Plot) -> None:
        super()._join(plot)
        session = self._session
        plot.moment_requested.connect(session.moment.set)
        plot.span_requested.connect(session.choose_span)
        plot.zoom_requested.connect(session.zoom.by)
        plot.pan_requested.connect(session.zoom.pan)

    def draw(self) -> None:
        """The run as it was judged last."""
        session = self._session
        result = session.checks.result
        run = result.run if result is not None else None
        whole = session.moment.limits
        if run is None or whole is None:
            phase = session.checks.phase
            words = run_finding(None, phase).headline if phase != "idle" else RunPlot.EMPTY
            self._draw_later(self._steps, partial(self._draw_steps, None, words))
            return
        view = RunView(run, whole, self._probe_index())
        self._draw_later(self._steps, partial(self._draw_steps, view))

    def _draw_steps(self, view: RunView | None, empty: str = RunPlot.EMPTY) -> None:
        self.steps.set_empty_text(empty)
        self.steps.show_result(view)

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
        if session.capture.capture is None or not self._steps.made:
            return
        self.steps.set_moment(moment_s, label)
        self.steps.set_time_range(session.zoom.seen if session.zoom.zoomed else None)
        self.steps.set_span(session.span.span)


class LoopLeaf(Leaf):
    """The loop's points beside a picture of their errors."""

    def __init__(self, session: Session, turns: OneATurn) -> None:
        super().__init__(session, turns)
        self.loop = LoopPanel(session)
        self._errors = self._slot(LoopErrorPlot)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(GAP)
        row.addWidget(_even(self.loop), 58)
        row.addWidget(self._errors, 42)

    def parts(self) -> tuple[QWidget, ...]:
        """The panel, too."""
        return (self.loop, *super().parts())

    @property
    def errors(self) -> LoopErrorPlot:
        """The error at each point."""
        return self._errors.plot

    def draw(self) -> None:
        """The loop as it was judged last."""
        result = self._session.checks.result
        view = loop_view(result, self._probe_index()) if result is not None else None
        self._draw_later(self._errors, lambda: self.errors.show_result(view))

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

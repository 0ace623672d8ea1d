"""The Alarms page: what would the alarms have done, and with other settings?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Signal
from PySide6.QtGui import QHideEvent, QShowEvent
from PySide6.QtWidgets import QHBoxLayout, QSizePolicy, QVBoxLayout, QWidget

from app.dialogs.write_limits import ask_to_write
from app.plots.boundary_plot import BoundaryPlot, BoundaryView
from app.plots.card import Card
from app.plots.level_plot import LevelPlot, LevelView
from app.plots.states_plot import StatesPlot, StatesView
from app.widgets import words
from app.widgets.limit_editor import LimitEditor
from app.widgets.speed_field import SpeedField
from app.widgets.theming import theme_of
from app.widgets.whole_page import WholePage

from .alarms_lists import AlarmsLists
from .alarms_tools import CaptureTools, ResetTools

if TYPE_CHECKING:
    from analysis.views.alarms import AlarmsResult
    from app.plots.plot import Plot
    from app.session.session import Session

GAP = 10
LEAST_HEIGHT = 100
NO_LIMITS = (
    "This setup has no limits. Add [[limit]] tables to it, then open it again: "
    "Menu, “Open a setup…”."
)
_PHASES = {
    "passing": "Reading the capture…",
    "stopped": "The pass over the capture was stopped. “Go on” on the timeline reads the rest.",
    "taking": "Taking the measures…",
    "cut": "Taking the measures was stopped. Look at another page and come back to take them.",
    "failed": "The limits could not be replayed; the message above says why.",
}


class AlarmsPage(WholePage):
    """Level and settings, trip boundary, states, and the lists that belong to them.

    Draws the answers of the session's reader while it is in sight; what the reader tries goes to
    the session's trial and resets, and nowhere else. `record_wanted()`: the proof test as it stands
    is to be written.
    """

    record_wanted = Signal()

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.speed_field = SpeedField(session)
        self.editor = LimitEditor(session)
        self.level = LevelPlot()
        self.boundary = BoundaryPlot()
        self.states = StatesPlot()
        self.lists = AlarmsLists(session)
        self.reset_tools = ResetTools(session)
        self.capture_tools = CaptureTools(session)
        for plot in self.plots():
            plot.setMinimumHeight(LEAST_HEIGHT)
        self._lay_out()
        self._connect()

    def plots(self) -> tuple[Plot, ...]:
        """Every picture of the page."""
        return (self.level, self.boundary, self.states)

    def fit(self) -> None:
        """Scale every picture to what it shows."""
        for plot in self.plots():
            plot.fit()

    def copy_readings(self) -> None:
        """Put the list in sight on the clipboard: events, or what would change."""
        self.lists.copy()

    def _lay_out(self) -> None:
        left, right = QVBoxLayout(), QVBoxLayout()
        self._boundary_card = Card(self.boundary, tools=(self.capture_tools,))
        states = Card(self.states, tools=(self.reset_tools,))
        for column, upper, lower in (
            (left, Card(self.level), states),
            (right, self._boundary_card, self.lists),
        ):
            column.setSpacing(GAP)
            column.addWidget(_even(upper), 55)
            column.addWidget(_even(lower), 45)
        columns = QHBoxLayout()
        columns.setSpacing(GAP)
        columns.addLayout(left, 56)
        columns.addLayout(right, 44)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.setSpacing(GAP)
        outer.addWidget(self.speed_field)
        outer.addWidget(self.editor)
        outer.addLayout(columns, 1)

    def _connect(self) -> None:
        session, trial = self._session, self._session.trial
        alarms = session.alarms
        alarms.answered.connect(self._draw)
        alarms.phase_changed.connect(self._draw)
        trial.changed.connect(self._draw_level)
        trial.chosen_changed.connect(self._draw_level)
        for plot in (self.level, self.states):
            plot.limit_requested.connect(trial.choose)
            plot.moment_requested.connect(session.moment.set)
            plot.span_requested.connect(session.choose_span)
            plot.zoom_requested.connect(session.zoom.by)
            plot.pan_requested.connect(session.zoom.pan)
        self.level.setting_requested.connect(self._try_level)
        self.states.reset_requested.connect(session.resets.add)
        self.states.reset_removed.connect(session.resets.remove)
        self.boundary.setting_requested.connect(self._try_both)
        self.lists.room_wanted.connect(lambda more: self._boundary_card.setVisible(not more))
        self.lists.outcome_changed.connect(self.editor.set_outcome)
        self.lists.record_wanted.connect(self.record_wanted)
        self.editor.write_wanted.connect(lambda: ask_to_write(self, session))
        session.moment.moved.connect(lambda _moment: self._show_moment())
        session.zoom.changed.connect(self._show_part)
        session.span.changed.connect(self._show_span)
        session.unit.changed.connect(self._set_unit)
        session.theme.changed.connect(self._dress)

    # Wishes --------------------------------------------------------------------------------------

    def _try_level(self, index: int, side: str, value_um: float) -> None:
        self._session.trial.change(index, **{side: value_um})

    def _try_both(self, index: int, side: str, level_um: float, delay_s: float) -> None:
        self._session.trial.change(index, **{side: level_um, "delay_s": delay_s})

    # Drawing -------------------------------------------------------------------------------------

    def showEvent(self, event: QShowEvent) -> None:
        """Ask, and show what there is."""
        super().showEvent(event)
        self._session.alarms.want(True)
        self._dress()
        self._set_unit(self._session.unit.unit)
        self._draw()
        self.lists.write()
        self._show_part()
        self._show_span()

    def hideEvent(self, event: QHideEvent) -> None:
        """Nobody looks."""
        super().hideEvent(event)
        self._session.alarms.want(False)

    def _draw(self) -> None:
        if not self.isVisible():
            return
        result, index = self._session.alarms.result, self._session.trial.chosen
        self._draw_level()
        if result is None or index is None:
            for plot in self.plots():
                plot.set_empty_text(self._empty_text(plot))
            self.states.show_result(None)
            self.boundary.show_result(None)
            return
        for plot in self.plots():
            plot.set_empty_text(plot.EMPTY)
        self.states.show_result(
            StatesView(
                in_force=result.in_force,
                trial=result.trial,
                chosen=index,
                whole=self._session.moment.limits,
            )
        )
        self._draw_boundary(result)

    def _empty_text(self, plot: Plot) -> str:
        setup = self._session.capture.setup
        if setup is not None and not setup.limit:
            return NO_LIMITS
        return _PHASES.get(self._session.alarms.phase, plot.EMPTY)

    def _draw_level(self) -> None:
        """At once: the line has to follow the hand, the answer comes after it."""
        trial, series = self._session.trial, self._session.alarms.series
        if not self.isVisible():
            return
        if series is None or trial.in_force is None or trial.chosen is None:
            self.level.show_result(None)
            return
        self.level.show_result(
            LevelView(
                series=series,
                setup=trial.in_force,
                index=trial.chosen,
                trial=trial.setup,
                whole=self._session.moment.limits,
            )
        )
        self._show_moment()

    def _draw_boundary(self, result: AlarmsResult) -> None:
        """Of the limit that was answered, which may not be the newest one chosen."""
        boundary = result.boundary
        if boundary is None:
            self.boundary.show_result(None)
            return
        index = boundary.index
        in_force = result.in_force.setup.limit[index]
        tried = result.trial.setup.limit[index] if result.trial is not None else in_force
        self.boundary.show_result(
            BoundaryView(
                boundary=boundary,
                in_force=in_force,
                trial=tried if tried != in_force else None,
                in_force_margins=result.in_force_margins,
            )
        )

    def _show_moment(self) -> None:
        if not self.isVisible():
            return
        moment_s = self._session.moment.moment_s
        for plot in (self.level, self.states):
            plot.set_moment(moment_s, words.seconds(moment_s))
        self.lists.show_moment()

    def _show_part(self) -> None:
        zoom = self._session.zoom
        for plot in (self.level, self.states):
            plot.set_time_range(zoom.seen if zoom.zoomed else None)

    def _show_span(self) -> None:
        for plot in (self.level, self.states):
            plot.set_span(self._session.span.span)

    def _set_unit(self, unit: object) -> None:
        if not self.isVisible():
            return
        for plot in self.plots():
            plot.set_unit(unit)

    def _dress(self) -> None:
        if not self.isVisible():
            return
        theme = theme_of(self._session.theme)
        for plot in self.plots():
            plot.set_theme(theme)
        self.lists.dress()


def _even(widget: QWidget) -> QWidget:
    """Let the layout share the room by stretch alone, whatever the widgets would like."""
    policy = QSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Ignored)
    widget.setSizePolicy(policy)
    return widget

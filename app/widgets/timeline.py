"""The timeline at the foot of every page: where the moment is, and a way to every other one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtWidgets import QLineEdit, QPushButton, QVBoxLayout, QWidget

from analysis.model.span import TimeSpan
from app.plots.card import Card
from app.plots.timeline_plot import COLUMNS, TimelinePlot, TimelineView
from app.plots.timeline_rows import RowLevels
from app.session.calm import FRAME_MS, Calm
from app.work.latest import Latest

from . import words
from .choice_box import ChoiceBox
from .span_tools import SpanTools
from .theming import theme_of

if TYPE_CHECKING:
    from analysis.views.timeline import TimelineResult
    from app.session.session import Session

MANY_ROWS = 100_000
"""More revolutions than these are made ready for drawing in a thread of their own."""


class TimelinePanel(QWidget):
    """Joins the timeline's picture with the session, and holds its small tools."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.plot = TimelinePlot()
        self.plot.setMinimumHeight(100)
        self.field = QLineEdit()
        self.field.setFixedWidth(92)
        self.field.setPlaceholderText("time, s")
        self.field.setAccessibleName("Moment, s")
        self.field.setToolTip("The moment in s. Type 48.3, 48,3 or 1:02.5 and press Enter (G)")
        self.probes = ChoiceBox("Probe", [], "The probe whose p-p the timeline shows, µm or mil")
        self.largest = _tool("Largest p-p", "Go to the largest p-p of this probe (P)")
        self.resume = _tool("Go on", "Read the rest of the capture")
        self.see_all = _tool("See all", "Show the whole capture on the timeline again (0)")
        self.spans = SpanTools(session)
        self.clear_span = self.spans.clear_button
        tools = (self.resume, self.see_all, self.spans, self.probes, self.largest, self.field)
        self.card = Card(self.plot, tools=tools)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.card)
        self._rows = Latest(session.runner, "rows", "Rows of the timeline", self._show_rows)
        self._connect()
        self._rebuild()

    def _connect(self) -> None:
        session = self._session
        self.plot.moment_requested.connect(session.moment.set)
        self.plot.span_requested.connect(self._span_requested)
        self.plot.zoom_requested.connect(session.zoom.by)
        self.plot.pan_requested.connect(session.zoom.pan)
        self.plot.centre_requested.connect(session.zoom.centre_on)
        self.field.returnPressed.connect(self._typed)
        self.field.textEdited.connect(lambda _text: self._mark_field(valid=True))
        self.field.editingFinished.connect(self._write_moment)
        self.probes.chosen.connect(lambda name: session.choice.set(timeline_probe=name))
        self.largest.clicked.connect(self.go_to_largest)
        self.resume.clicked.connect(session.timeline.start)
        self.see_all.clicked.connect(session.zoom.show_all)
        self.spans.done.connect(self.plot.setFocus)
        session.capture.setup_changed.connect(self._rebuild)
        session.timeline.changed.connect(self._show_result)
        session.choice.changed.connect(self._choice_changed)
        self._frames = Calm(FRAME_MS)
        self._frames.passed.connect(self._show_moment)
        self._figures = Calm()
        self._figures.passed.connect(self._show_in_field)
        session.moment.moved.connect(lambda _t: self._moved())
        session.reader.answered.connect(self._show_moment)
        session.span.changed.connect(self._show_span)
        session.spans.changed.connect(self._show_named)
        session.zoom.changed.connect(self._show_part)
        session.unit.changed.connect(self.plot.set_unit)
        session.theme.changed.connect(lambda: self.plot.set_theme(theme_of(session.theme)))
        self.plot.set_unit(session.unit.unit)
        self.plot.set_theme(theme_of(session.theme))

    def probe(self) -> str | None:
        """Name of the probe whose p-p is shown."""
        return self._session.timeline_probe()

    def go_to_largest(self) -> None:
        """Move the moment to the largest p-p of the probe shown."""
        moment_s = self._session.timeline.largest_at(self.probe())
        if moment_s is not None:
            self._session.moment.set(moment_s)

    def focus_field(self) -> None:
        """Let the reader type a moment."""
        self.field.setFocus()
        self.field.selectAll()

    def _typed(self) -> None:
        moment_s = words.parse_time(self.field.text())
        self._mark_field(valid=moment_s is not None)
        if moment_s is not None:
            self._session.moment.set(moment_s)
            self._write_moment()
            self.plot.setFocus()

    def _mark_field(self, *, valid: bool) -> None:
        wanted = "false" if valid else "true"
        if self.field.property("invalid") != wanted:
            self.field.setProperty("invalid", wanted)
            self.field.style().unpolish(self.field)
            self.field.style().polish(self.field)

    def _span_requested(self, start_s: float, end_s: float) -> None:
        self._session.span.set(TimeSpan(min(start_s, end_s), max(start_s, end_s)))

    def _rebuild(self) -> None:
        setup = self._session.capture.setup
        names = [probe.name for probe in setup.probe] if setup else []
        self.probes.set_options([(name, name, f"p-p of {name}") for name in names])
        self.probes.set_value(self.probe())
        for tool in (self.probes, self.largest, self.field):
            tool.setVisible(bool(names))
        self._show_part()
        self._show_result()
        self._show_moment()
        self._show_in_field()
        self._show_span()
        self._show_named()

    def _choice_changed(self, names: frozenset[str]) -> None:
        if "timeline_probe" in names:
            self.probes.set_value(self.probe())
            self._show_result()

    def _show_result(self) -> None:
        result, setup, probe = (
            self._session.timeline.result,
            self._session.capture.setup,
            self.probe(),
        )
        if result is None or setup is None or probe is None:
            self._rows.drop()
            self.plot.set_empty_text(_empty_text(self._session))
            self.plot.show_result(None)
        elif len(result.time_s) > MANY_ROWS:
            self._rows.ask(lambda _progress: _prepared(result, probe))
        else:
            self._rows.drop()
            self.plot.show_result(TimelineView(result, setup, probe))
        started = result is not None or self._session.capture.setup is not None
        stopped = not self._session.timeline.complete and not self._session.timeline.running
        self.resume.setVisible(started and stopped and bool(probe))

    def _show_rows(self, levels: RowLevels) -> None:
        setup = self._session.capture.setup
        if setup is not None:
            self.plot.show_result(TimelineView(levels.result, setup, levels.probe, levels))

    def _show_moment(self) -> None:
        moment_s = self._session.moment.moment_s
        result = self._session.reader.result
        label = words.seconds(moment_s)
        # The speed belongs to the moment that was answered, not to the one asked for.
        if result is not None and result.request.moment_s == moment_s:
            label += f" · {words.speed(result.readings.speed)}"
        self.plot.set_moment(moment_s, label)

    def _moved(self) -> None:
        self._frames.call()
        self._figures.call()

    def _show_in_field(self) -> None:
        if not self.field.hasFocus():
            self._write_moment()

    def _write_moment(self) -> None:
        if self.field.property("invalid") == "true" and self.field.hasFocus():
            return
        self._mark_field(valid=True)
        self.field.setText(words.number(self._session.moment.moment_s, 3).replace("−", "-"))

    def _show_span(self) -> None:
        self.plot.set_span(self._session.span.span)

    def _show_named(self) -> None:
        self.plot.set_named(tuple((each.name, each.span) for each in self._session.spans.items))

    def _show_part(self) -> None:
        zoom = self._session.zoom
        self.plot.set_seen(zoom.seen if zoom.zoomed else None)
        self.see_all.setVisible(zoom.zoomed)


def _empty_text(session: Session) -> str:
    if session.capture.capture is None:
        return "No timeline yet. Open a capture."
    if session.capture.setup is None:
        return "The timeline fills when the channels are described."
    if session.timeline.running:
        return "Reading the capture…"
    return "Nothing has been read of the capture yet."


def _tool(text: str, tip: str) -> QPushButton:
    button = QPushButton(text)
    button.setProperty("role", "quiet")
    button.setAutoDefault(False)
    button.setToolTip(tip)
    return button


def _prepared(result: TimelineResult, probe: str) -> RowLevels:
    levels = RowLevels(result, probe)
    levels.prepare(COLUMNS)
    return levels

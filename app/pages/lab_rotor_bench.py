"""The pictures of the Lab's rotor: over the speeds, and at the one looked at."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QFrame, QHBoxLayout, QVBoxLayout, QWidget

from analysis.model.units import LengthUnit
from analysis.simulate.lab import compose
from app.plots.amplitude_plot import AmplitudePlot
from app.plots.bode_plot import BodePlot
from app.plots.card import Card
from app.plots.circles_plot import CirclesPlot
from app.plots.lab_view import LabView
from app.plots.palette import Theme
from app.plots.phase_plot import PhasePlot
from app.plots.plot import Plot
from app.plots.polar_plot import PolarPlot, PolarView
from app.plots.run_view import CriticalMark, RunView
from app.plots.shaft_plot import ShaftPlot
from app.plots.still_label import StillLabel
from app.session.lab_model import setup_of
from app.widgets.mode_pictures import ModePictures
from app.widgets.rotor_words import rotor_finding, rotor_remarks
from app.work.one_a_turn import OneATurn

from .even import even

if TYPE_CHECKING:
    from app.session.lab_clock import LabClock
    from app.session.rotor_lab import RotorLab

GAP = 10
LEAST_HEIGHT = 100
NO_RUN = "Unstable from standstill on: no curve. Take cross-coupling back, or open a capture."


class LabRotorBench(QWidget):
    """Bode and polar of the run; the shaft, its 1X and its modes at one speed."""

    def __init__(self, lab: RotorLab, clock: LabClock, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._lab, self._clock = lab, clock
        self._unit, self._theme = LengthUnit.UM, Theme.LIGHT
        self._turns_of_work = OneATurn(self)
        self.view: LabView | None = None
        self.finding, self.remarks = _label("title"), _label("muted", 2)
        self.modes = ModePictures()
        self._drawn: object = None
        self._ready = False

    def building(self) -> Iterator[None]:
        """Make one picture a step, and lay it out in its card."""
        upper, lower = self._rows()
        yield
        amplitude = AmplitudePlot()
        yield
        self.bode = BodePlot(amplitude, PhasePlot())
        self._place(upper, self.bode, 60, "1X at the journal against speed")
        yield
        self.polar = PolarPlot()
        self._place(upper, self.polar, 40)
        yield
        self.shaft = ShaftPlot()
        self._place(lower, self.shaft, 36)
        yield
        self.circles = CirclesPlot()
        self._place(lower, self.circles, 34)
        yield
        self._place(lower, self.modes, 30, "Free vibrations at this speed")
        self._lab.drawn_anew.connect(self._draw)
        self._clock.moved.connect(self._turn)
        for plot in (self.bode, self.polar):
            plot.moment_requested.connect(self._look_at)
        self._ready = True
        self.refresh()

    def plots(self) -> tuple[Plot, ...]:
        """Every picture, as soon as all have been made."""
        if not self._ready:
            return ()
        return (*self.bode.plots(), self.polar, self.shaft, self.circles)

    def fit(self) -> None:
        """Scale every picture to what it shows."""
        for plot in self.plots():
            plot.fit()

    def set_unit(self, unit: LengthUnit) -> None:
        """Show lengths in this unit."""
        self._unit = unit
        for plot in self.plots():
            self._turns_of_work.put((plot, "unit"), lambda p=plot: p.set_unit(self._unit))
        self._write()

    def set_theme(self, theme: Theme) -> None:
        """Dress the pictures."""
        self._theme = theme
        self.modes.set_theme(theme)
        for plot in self.plots():
            self._turns_of_work.put((plot, "theme"), lambda p=plot: p.set_theme(self._theme))

    def is_settled(self) -> bool:
        """Whether every picture is as it is to be."""
        return self._turns_of_work.is_idle()

    def copied(self) -> str:
        """The finding as text."""
        words = (self.finding.text(), self.remarks.text(), self.modes.text())
        return "\n".join(filter(None, words))

    def refresh(self) -> None:
        """Draw the rotor as it is, when somebody looks again: one picture a turn."""
        if not self._ready or not self.isVisible():
            return
        self._look_at_moment()
        self._draw_run()
        for plot in (self.shaft, self.circles):
            self._turns_of_work.put(plot, lambda p=plot: p.show_result(self.view))
        self._write()

    def _draw(self, _fit: bool = False) -> None:
        """Within a frame: a slider moves."""
        if not self.isVisible():
            return
        self._look_at_moment()
        self._draw_run()
        self.shaft.show_result(self.view)
        self.circles.show_result(self.view)
        self._write()

    def _look_at_moment(self) -> None:
        moment = self._lab.moment
        state = moment.state
        setup = setup_of(state.probes, state.rotation == "ccw", state.clearance_um)
        self.view = LabView(compose(state), setup)
        self._clock.set_wrap(self.view.result.shown_turns)
        for plot in (self.shaft, self.circles):
            plot.set_turns(self._clock.turns, now=False)
        time_s = self._time_of(moment.speed_rpm)
        self.bode.set_moment(time_s)
        self.polar.set_moment(time_s)

    def _draw_run(self) -> None:
        """The curves, unless they are those already drawn: a speed that is dragged leaves them."""
        lab = self._lab
        answer, run = lab.answer, lab.run
        if self._drawn is not None and self._drawn == (id(answer), id(run)):
            return
        # Holding the objects keeps their ids from coming again.
        self._kept = (answer, run)
        self._drawn = (id(answer), id(run))
        request = answer.request
        recorded = request.recorded
        view = RunView(
            traces=answer.traces,
            places={probe.name: place for place, probe in enumerate(recorded.probes)},
            criticals=tuple(
                CriticalMark(name, each)
                for name, criticals in answer.criticals.items()
                for each in criticals
            ),
            others=run.traces if run is not None else (),
            other_name="run in time" if run is not None else "",
            raw_shown=False,
        )
        shown = bool(answer.traces)
        angles = {probe.name: probe.angle_deg for probe in recorded.probes}
        polar = PolarView(view, angles, request.rotor.rotation)
        self.bode.phase.setVisible(shown)
        for plot, of in (*((each, view) for each in self.bode.pair()), (self.polar, polar)):
            self._turns_of_work.put(plot, lambda p=plot, v=of: self._draw_one(p, v, shown))

    def _draw_one(self, plot: Plot, view: object, shown: bool) -> None:
        """One picture of the run a turn: words are laid among the curves, and that takes time."""
        plot.set_empty_text(NO_RUN)
        plot.show_result(view if shown else None)

    def _time_of(self, speed_rpm: float) -> float:
        run = self._lab.sweep
        return (speed_rpm - run.from_rpm) / (run.to_rpm - run.from_rpm) * run.seconds

    def _look_at(self, time_s: float) -> None:
        run = self._lab.sweep
        speed = run.from_rpm + (run.to_rpm - run.from_rpm) * time_s / run.seconds
        self._lab.set_speed(round(speed))

    def _turn(self, turns: float) -> None:
        if self.isVisible():
            for plot in (self.shaft, self.circles):
                # While a slider moves, both are drawn anew with the next frame: once is enough.
                plot.set_turns(turns, now=not self._lab.is_drawing())

    def _write(self) -> None:
        if self.view is None:
            return
        moment = self._lab.moment
        self.finding.setText(rotor_finding(self.view, moment, self._unit))
        remarks = rotor_remarks(self._lab.answer, moment, self._lab.run)
        self.remarks.setText("\n".join(remarks))
        self.modes.show_modes(moment.modes, moment.speed_rpm, self._lab.rotor.sign)

    def _rows(self) -> tuple[QHBoxLayout, QHBoxLayout]:
        upper, lower = QHBoxLayout(), QHBoxLayout()
        for row in (upper, lower):
            row.setSpacing(GAP)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(GAP)
        column.addWidget(self._finding_card())
        column.addLayout(upper, 56)
        column.addLayout(lower, 44)
        return upper, lower

    def _place(self, row: QHBoxLayout, widget: QWidget, share: int, title: str = "") -> None:
        plots = widget.plots() if isinstance(widget, BodePlot) else (widget,)
        for plot in plots:
            if isinstance(plot, Plot):
                plot.setMinimumHeight(LEAST_HEIGHT)
                plot.set_unit(self._unit)
                plot.set_theme(self._theme)
        row.addWidget(even(Card(widget, title)), share)

    def _finding_card(self) -> QFrame:
        card = QFrame()
        card.setProperty("role", "card")
        column = QVBoxLayout(card)
        column.setContentsMargins(12, 7, 12, 8)
        column.setSpacing(2)
        column.addWidget(self.finding)
        column.addWidget(self.remarks)
        return card

    def showEvent(self, event: object) -> None:
        """Draw once it has its size."""
        super().showEvent(event)
        QTimer.singleShot(0, self.refresh)


def _label(role: str, lines: int = 1) -> StillLabel:
    label = StillLabel(lines)
    label.setProperty("role", role)
    return label

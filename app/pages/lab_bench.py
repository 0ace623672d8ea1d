"""The Lab's pictures of one state: shaft, orbit, 1X, waveforms and spectrum."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QFrame, QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from analysis.model.units import LengthUnit
from app.plots.card import Card
from app.plots.circles_plot import CirclesPlot
from app.plots.lab_orbit_plot import LabOrbitPlot
from app.plots.lab_view import LabView
from app.plots.lag_plot import LagPlot
from app.plots.palette import Theme
from app.plots.shaft_plot import ShaftPlot
from app.plots.spectrum_plot import SpectrumPlot
from app.plots.still_label import StillLabel
from app.session.lab_clock import PACES, LabClock
from app.widgets.choice_box import ChoiceBox
from app.widgets.lab_words import headline, remarks
from app.work.one_a_turn import OneATurn

from .even import even

if TYPE_CHECKING:
    from app.plots.plot import Plot
    from app.session.lab_model import LabModel

GAP = 10
LEAST_HEIGHT = 100
_STEP_DEG = 15.0
NOT_SHOWN = {
    "shaft": "Not shown in this task: a machine has no window either. Read what the probes see; "
    "to look inside, open a capture of your own making.",
    "precession": "Not shown in this task: it would give the answer away. Read the orbit and the "
    "spectrum; to see readings, open a capture of it on the other pages.",
}


class LabBench(QWidget):
    """Pictures that follow the Lab's state and its slow motion, with the finding above them.

    They are made one after the other (`building`), since all at once would be felt.
    """

    def __init__(
        self,
        model: LabModel,
        clock: LabClock,
        hidden: Callable[[], frozenset[str]],
        parent: QWidget | None = None,
    ) -> None:
        """`hidden` tells what the pictures must keep to themselves."""
        super().__init__(parent)
        self._model, self._clock, self._hidden = model, clock, hidden
        self._unit, self._theme = LengthUnit.UM, Theme.LIGHT
        self._plots: list[Plot] = []
        self.view: LabView | None = None
        self._views: dict[Plot, object] = {}
        self._anew: set[Plot] = set()
        self._turns_of_work = OneATurn(self)
        self.finding, self.remarks = _label("title"), _label("muted", 2)
        self._outer = QVBoxLayout(self)
        self._outer.setContentsMargins(0, 0, 0, 0)
        self._outer.setSpacing(GAP)
        self._upper, self._lower = QHBoxLayout(), QHBoxLayout()
        for row in (self._upper, self._lower):
            row.setSpacing(GAP)
        for label in (self.finding, self.remarks):
            label.grown.connect(self._settle_in_turns)
        self._outer.addWidget(self._finding_card())
        self._outer.addLayout(self._upper, 57)
        self._outer.addLayout(self._lower, 43)

    def plots(self) -> tuple[Plot, ...]:
        """Every picture that has been made."""
        return tuple(self._plots)

    def building(self) -> Iterator[None]:
        """Make one picture a step."""
        self.orbit = LabOrbitPlot()
        self._place(self.orbit, self._upper, 33, ())
        yield
        self.shaft = ShaftPlot()
        self._upper.insertWidget(0, even(self._card(self.shaft, self._clock_tools())), 34)
        yield
        self.circles = CirclesPlot()
        self._place(self.circles, self._upper, 33, ())
        yield
        self.lags = LagPlot()
        self.lags.turns_requested.connect(self._turn_to)
        self._place(self.lags, self._lower, 58, self._lag_tools())
        yield
        self.spectrum = SpectrumPlot()
        self._place(self.spectrum, self._lower, 42, ())
        self._clock.moved.connect(self._turn)
        self._model.drawn_anew.connect(self._draw)
        self._turn(self._clock.turns)
        self.refresh()

    def fit(self) -> None:
        """Scale every picture to what it shows."""
        for plot in self._plots:
            plot.fit()

    def set_unit(self, unit: LengthUnit) -> None:
        """Show lengths in this unit."""
        self._unit = unit
        for plot in self._plots:
            self._turns_of_work.put((plot, "unit"), lambda p=plot: p.set_unit(self._unit))
        self._write()

    def set_theme(self, theme: Theme) -> None:
        """Dress the pictures."""
        self._theme = theme
        for plot in self._plots:
            self._turns_of_work.put((plot, "theme"), lambda p=plot: p.set_theme(self._theme))

    def is_settled(self) -> bool:
        """Whether every picture is as it is to be."""
        return self._turns_of_work.is_idle()

    def copied(self) -> str:
        """The finding as text."""
        return "\n".join(filter(None, (self.finding.text(), self.remarks.text())))

    def refresh(self) -> None:
        """Draw what there is, when somebody looks again: one picture a turn."""
        if len(self._plots) == 5 and self.isVisible():
            self._turns_of_work.put("look", lambda: self._draw_in_turns(anew=False))

    # Parts ---------------------------------------------------------------------------------------

    def _finding_card(self) -> QFrame:
        card = QFrame()
        card.setProperty("role", "card")
        column = QVBoxLayout(card)
        column.setContentsMargins(12, 7, 12, 8)
        column.setSpacing(2)
        column.addWidget(self.finding)
        column.addWidget(self.remarks)
        return card

    def _card(self, plot: Plot, tools: tuple[QWidget, ...]) -> Card:
        plot.setMinimumHeight(LEAST_HEIGHT)
        plot.set_unit(self._unit)
        plot.set_theme(self._theme)
        self._plots.append(plot)
        return Card(plot, tools=tools)

    def _place(self, plot: Plot, row: QHBoxLayout, share: int, tools: tuple[QWidget, ...]) -> None:
        row.addWidget(even(self._card(plot, tools)), share)

    def _clock_tools(self) -> tuple[QWidget, ...]:
        self.play = QPushButton()
        self.play.setToolTip("Let the shaft turn, or stop it")
        self.play.clicked.connect(lambda: self._clock.set_running(not self._clock.running))
        back, on = QPushButton("−15°"), QPushButton("+15°")
        back.clicked.connect(lambda: self._clock.step(-_STEP_DEG))
        on.clicked.connect(lambda: self._clock.step(_STEP_DEG))
        back.setToolTip("Stop, and turn the shaft back by 15°")
        on.setToolTip("Stop, and turn the shaft on by 15°")
        for button in (self.play, back, on):
            button.setProperty("role", "quiet")
            button.setAutoDefault(False)
        self.pace = ChoiceBox(
            "Slow motion",
            [(f"{pace:g}/s", pace, f"Show {pace:g} turns a second") for pace in PACES],
            "How fast the slow motion turns",
        )
        self.pace.set_value(self._clock.pace)
        self.pace.chosen.connect(self._set_pace)
        self._clock.running_changed.connect(self._write_clock)
        self._write_clock()
        return (back, self.play, on, self.pace)

    def _lag_tools(self) -> tuple[QWidget, ...]:
        self.quantity = ChoiceBox(
            "Quantity",
            [
                ("towards the probe", "displacement", "Displacement, positive towards the probe"),
                ("gap", "gap", "Gap: it shrinks when the shaft comes nearer"),
                ("gap voltage", "voltage", "Gap voltage: less negative when the shaft is nearer"),
            ],
            "Displacement, gap or gap voltage: the three ways to write one signal",
        )
        self.quantity.set_value("displacement")
        self.quantity.chosen.connect(self._set_quantity)
        self.turns = ChoiceBox(
            "Turns shown",
            [("2 turns", 2.0, "Two turns"), ("1 turn", 1.0, "One turn"), ("all", 8.0, "All")],
            "How many turns the waveforms show",
        )
        self.turns.set_value(2.0)
        self.turns.chosen.connect(self._set_shown)
        return (self.quantity, self.turns)

    # Following -----------------------------------------------------------------------------------

    def _set_pace(self, pace: float) -> None:
        self.pace.set_value(pace)
        self._clock.set_pace(pace)
        self._clock.set_running(True)

    def _set_quantity(self, quantity: str) -> None:
        self.quantity.set_value(quantity)
        self.lags.set_quantity(quantity)

    def _set_shown(self, turns: float) -> None:
        self.turns.set_value(turns)
        self.lags.set_shown_turns(turns)

    def _write_clock(self) -> None:
        self.play.setText("Stop" if self._clock.running else "Turn")

    def _turn_to(self, turns: float) -> None:
        self._clock.set_running(False)
        self._clock.set_turns(turns)

    def _turn(self, turns: float, *, now: bool = True) -> None:
        if not self.isVisible():
            return
        for plot in (self.orbit, self.shaft, self.circles, self.lags):
            # While a slider moves, every picture is drawn anew with the next frame: once is enough.
            plot.set_turns(turns, now=now and not self._model.is_drawing())

    def _draw(self, fit: bool) -> None:
        """A slider moves: all at once, within a frame. Something else is shown: one a turn."""
        if not self.isVisible():
            return
        if fit:
            self._draw_in_turns(anew=True)
            return
        self._look_at_state()
        for plot in self._plots:
            plot.show_result(self._views[plot])
        self._write()

    def _draw_in_turns(self, *, anew: bool) -> None:
        self._turn(self._clock.turns, now=False)
        self._look_at_state()
        if anew:
            self._anew |= set(self._plots)
        for plot in self._plots:
            self._turns_of_work.put(plot, lambda p=plot: self._draw_one(p))
        self._write()

    def _settle_in_turns(self) -> None:
        """Words that need another line move every picture: each fits itself in, then all paint."""
        if not self.isVisible():
            return
        self.setUpdatesEnabled(False)
        for plot in self._plots:
            self._turns_of_work.put((plot, "settle"), plot.canvas.settle)
        self._turns_of_work.put("paint", lambda: self.setUpdatesEnabled(True))

    def _draw_one(self, plot: Plot) -> None:
        """What there is to show by now: a slider may have moved before this turn came."""
        show = plot.show_anew if plot in self._anew else plot.show_result
        self._anew.discard(plot)
        show(self._views[plot])

    def _look_at_state(self) -> None:
        """What each picture is to show now."""
        view = self.view = LabView(self._model.result, self._model.setup, self._hidden())
        self._clock.set_wrap(view.result.shown_turns)
        for plot, what in ((self.shaft, "shaft"), (self.circles, "precession")):
            plot.set_empty_text(NOT_SHOWN[what] if what in view.hidden else plot.EMPTY)
        self._views = {
            self.shaft: None if "shaft" in view.hidden else view,
            self.orbit: view,
            self.circles: None if "precession" in view.hidden else view,
            self.lags: view,
            self.spectrum: view.result.spectrum,
        }

    def _write(self) -> None:
        view = self.view
        if view is None:
            return
        if view.hidden:
            self.finding.setText("A task: what it asks for is not written anywhere here.")
            self.remarks.setText("Drag along the waveforms, or step the shaft by 15°, to measure.")
            return
        self.finding.setText(headline(view, self._unit))
        self.remarks.setText("\n".join(remarks(view)))


def _label(role: str, lines: int = 1) -> StillLabel:
    label = StillLabel(lines)
    label.setProperty("role", role)
    return label

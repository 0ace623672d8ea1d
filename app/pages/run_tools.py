"""The small tools of the Run page: probes and order, slow roll, what else is shown, the cascade."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import Signal
from PySide6.QtGui import QAction
from PySide6.QtWidgets import QFileDialog, QHBoxLayout, QWidget

from app.session.run_state import DEFAULT_BANDWIDTH_HZ, RunChoices
from app.widgets.choice_box import ChoiceBox
from app.widgets.menu_button import MenuButton
from app.widgets.segmented import Segmented

if TYPE_CHECKING:
    from app.session.session import Session

BANDWIDTHS_HZ = (1.0, 2.0, DEFAULT_BANDWIDTH_HZ, 8.0, 16.0)
SMOOTHINGS = (1, 3, 5, 9, 15)
CASCADE_OPTIONS = {
    "frequency": (("orders", "In orders of running speed"), ("hz", "In Hz")),
    "scale": (("dB", "In dB, 60 below the largest"), ("linear", "Linear from zero")),
    "style": (("picture", "As a picture"), ("lines", "As lines one above another")),
}
RUNS = "Captures and tables (*.h5 *.hdf5 *.csv *.tsv *.txt);;All files (*)"


class RunTools(QWidget):
    """Probes, order, slow roll and options. `type_wanted`: a slow-roll vector is to be typed.

    `keep_wanted`: the vectors taken off are to be kept in the setup.
    """

    type_wanted = Signal()
    keep_wanted = Signal()
    range_wanted = Signal()

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.probes = ChoiceBox("Probes", [], "Probes whose vectors are shown, µm or mil p-p")
        self._orders = [1]
        self.order = Segmented("Order", [("1X", 1, "Once a turn, µm or mil p-p")])
        self.across = Segmented(
            "Across",
            [
                ("speed", "speed", "Against speed, r/min"),
                ("time", "time", "Against capture time, s"),
            ],
        )
        self.slow_roll = MenuButton(
            "Slow roll", "The vector that is taken off as runout, µm or mil p-p ∠ lag"
        )
        self.options = MenuButton("Show", "Phase, references, smoothing, order filter, another run")
        self._slow_actions = self._fill_slow_roll()
        self._option_actions = self._fill_options()
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(2)
        for tool in (self.probes, self.order, self.across, self.slow_roll, self.options):
            row.addWidget(tool)
        self.order.chosen.connect(lambda order: session.run_choice.set(order=order))
        self.across.chosen.connect(lambda axis: session.run_choice.set(axis=axis))
        self.probes.chosen.connect(lambda names: session.run_choice.set(probes=names))

    def _fill_slow_roll(self) -> dict[str, QAction]:
        choice, tool = self._session.run_choice, self.slow_roll
        actions = {
            "off": tool.add(
                "Take nothing off",
                lambda: choice.set_slow_roll(take_off=False),
                "Show and judge vectors as measured, runout and all",
            ),
            "proposed": tool.add(
                "Proposed: the steady lowest speeds",
                lambda: choice.set_slow_roll(take_off=True, at_rpm=None, vectors={}),
                "The mean vector at the lowest speeds, where it is steady; else none, and why",
            ),
            "moment": tool.add(
                "From the speed at the moment",
                self._from_moment,
                "The mean vector near the speed, r/min, that the shaft has at the moment",
            ),
            "typed": tool.add(
                "Typed…",
                self.type_wanted.emit,
                "Amplitude p-p and phase lag of each probe, as from a record",
            ),
        }
        tool.menu_shown.addSeparator()
        tool.add(
            "Keep in the setup…",
            self.keep_wanted.emit,
            "Write the vectors taken off to a setup file",
            ticks=False,
        )
        return actions

    def _from_moment(self) -> None:
        speed = self._session.speed_at_moment()
        if speed is not None:
            self._session.run_choice.set_slow_roll(take_off=True, at_rpm=speed, vectors={})

    def _fill_options(self) -> dict[object, QAction]:
        choice, tool = self._session.run_choice, self.options
        actions: dict[object, QAction] = {
            "raw": tool.add(
                "As measured, dotted",
                lambda: choice.set(raw_shown=not choice.now.raw_shown),
                "Amplitudes with runout, beside the compensated ones",
            ),
            "wrapped": tool.add(
                "Phase wrapped to 0° to 360°",
                lambda: choice.set(wrapped=not choice.now.wrapped),
                "Else the lag runs on without jumps",
            ),
        }
        lines = tool.menu_shown.addMenu("References")
        for key, text, tip in (
            ("limits", "Limits of the setup", "Alarm and trip of 1X and of unfiltered p-p"),
            ("zones", "Evaluation zones", "Of the setup's [severity_zones], with their edition"),
            (
                "test",
                "Running test limit",
                "25.4 µm · sqrt(12000 / highest speed), at most 25.4 µm: API 617 and RP 684 as "
                "seen outside the standards; or running_test_limit_um of the setup's [machine]",
            ),
        ):
            actions[key] = tool.add(text, lambda k=key: choice.toggle_reference(k), tip, lines)
        tool.add(
            "Operating range…", self.range_wanted.emit, "Running speeds, r/min", lines, ticks=False
        )
        smooth = tool.menu_shown.addMenu("Smoothed figures over")
        for turns in SMOOTHINGS:
            text = f"{turns} turns" if turns > 1 else "no turns: plain figures only"
            actions["turns", turns] = tool.add(
                text, lambda n=turns: choice.set(smoothing_turns=n), "", smooth
            )
        vectors = tool.menu_shown.addMenu("Vectors")
        actions["width", None] = tool.add(
            "turn by turn",
            lambda: choice.set(bandwidth_hz=None),
            "Least squares in each revolution",
            vectors,
        )
        for width in BANDWIDTHS_HZ:
            actions["width", width] = tool.add(
                f"order filter, {width:g} Hz wide",
                lambda w=width: choice.set(bandwidth_hz=w),
                "Second-generation Vold-Kalman filter, two poles; -3 dB width, both sides "
                "together. For orders that cross and fast sweeps",
                vectors,
            )
        tool.menu_shown.addSeparator()
        tool.add("Lay another run over…", self._ask_other, "A capture or a table", ticks=False)
        self.clear_other = tool.add(
            "Take the other run away", self._session.laid_over.clear, ticks=False
        )
        self.back = tool.add(
            "Back to the capture", lambda: self._session.run.open_table(None), ticks=False
        )
        return actions

    def _ask_other(self) -> None:
        path, _ = QFileDialog.getOpenFileName(
            self, "Lay another run over", self._session.settings.folder, RUNS
        )
        if path:
            self._session.laid_over.lay(Path(path))

    def refresh(
        self,
        groups: list[tuple[str, tuple[str, ...], str]],
        shown: tuple[str, ...],
        orders: tuple[int, ...],
        *,
        samples: bool,
    ) -> None:
        """Offer what there is. `groups` are (text, probes, tip); `samples`: of a capture."""
        now: RunChoices = self._session.run_choice.now
        if [group[1] for group in groups] != self.probes.values():
            self.probes.set_options(groups)
        self.probes.set_value(shown)
        names = [(f"{n}X", n, f"{n} times a turn, µm or mil p-p") for n in orders]
        if [n for _, n, _ in names] != self._orders:
            self._orders = [n for _, n, _ in names]
            self.order.set_options(names)
        self.order.set_value(now.order)
        self.across.set_value(now.axis)
        slow = now.slow_roll
        state = "typed" if slow.vectors else "moment" if slow.at_rpm is not None else "proposed"
        for key, action in self._slow_actions.items():
            action.setChecked(key == (state if slow.take_off else "off"))
        held = {
            "raw": now.raw_shown,
            "wrapped": now.wrapped,
            ("turns", now.smoothing_turns): True,
            ("width", now.bandwidth_hz): True,
            **dict.fromkeys(now.references, True),
        }
        for key, action in self._option_actions.items():
            action.setChecked(bool(held.get(key, False)))
            if isinstance(key, tuple) and key[0] == "width":
                action.setEnabled(samples)
        self.clear_other.setVisible(self._session.laid_over.other is not None)
        there = self._session.capture.capture is not None
        self.back.setVisible(self._session.run.table is not None and there)


class CascadeTools(QWidget):
    """What the cascade is of, over what, in what, and how it is drawn."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        choice = session.run_choice
        self.of = ChoiceBox("Cascade of", [], "A plane, two-sided, or a probe, one-sided")
        self.over = ChoiceBox("Over", [], "Speed, r/min, or capture time, s")
        self.drawn = MenuButton("Show", "Orders or Hz, dB or linear, picture or lines; µm or mil")
        self._actions = {}
        for name, options in CASCADE_OPTIONS.items():
            for value, text in options:
                self._actions[name, value] = self.drawn.add(
                    text, lambda n=name, v=value: choice.set_cascade(**{n: v})
                )
            self.drawn.menu_shown.addSeparator()
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(1)
        for tool in (self.of, self.over, self.drawn):
            row.addWidget(tool)
        self.of.chosen.connect(lambda of: choice.set_cascade(of=of))
        self.over.chosen.connect(lambda wish: choice.set_cascade(over=wish[0], passage=wish[1]))

    def refresh(
        self, names: list[tuple[str, str, str]], chosen: str, passages: tuple[str, ...]
    ) -> None:
        """Offer planes and probes (text, name, tip), and the runs up and down."""
        now = self._session.run_choice.now.cascade
        if [name for _, name, _ in names] != self.of.values():
            self.of.set_options(names)
        self.of.set_value(chosen)
        overs: list[tuple[str, tuple[str, int | None], str]] = [
            ("speed", ("speed", None), "The longest passage, over speed in r/min")
        ]
        if len(passages) > 1:
            overs += [
                (f"speed {arrow}", ("speed", rank), "This passage, over speed in r/min")
                for rank, arrow in enumerate(passages)
            ]
        overs.append(("time", ("time", None), "The whole capture, over time in s"))
        if [value for _, value, _ in overs] != self.over.values():
            self.over.set_options(overs)
        self.over.set_value((now.over, now.passage if now.over == "speed" else None))
        for (name, value), action in self._actions.items():
            action.setChecked(getattr(now, name) == value)

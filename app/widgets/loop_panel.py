"""The check of a current loop: range, load, and what the meter read at each point."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QVBoxLayout, QWidget

from .check_sheets import LOOP_STAGES, loop_sheet
from .choice_box import ChoiceBox
from .number_field import NumberField
from .segmented import Segmented
from .sheet import Sheet
from .theming import theme_of

if TYPE_CHECKING:
    from app.session.session import Session

CAUTION = (
    "A loop may drive indicators, a control system or a shutdown. Agree with the machine's owner "
    "before it is opened or driven, under local codes; in hazardous areas with their permits. "
    "Put it back, and have it seen, before the check is signed."
)
_MEASURES = {"position": "position", "peak_to_peak": "p-p", "1x": "1X"}


class LoopPanel(QFrame):
    """Follows the session's check; every field changes it at once."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.setProperty("role", "card")
        self.outputs = ChoiceBox("Output of the setup", [], "Take the range of an output")
        self.low = NumberField("Value at 4 mA", least=-1e5)
        self.high = NumberField("Value at 20 mA", least=-1e5)
        self.load = NumberField("Load, Ω", least=1.0)
        self.tolerance = NumberField("Allowed error, % of span")
        self.meter = Segmented(
            "What the meter reads",
            [
                ("mA", False, "Currents are typed in, mA"),
                ("V", True, "Voltages across the load are typed in, V"),
            ],
        )
        self.sheet = Sheet("Loop check: points, due and read", numbered=False)
        # All five points are seen, also where a banner takes room.
        self.sheet.setMinimumHeight(150)
        self.sheet.setMaximumHeight(180)
        caution = QLabel(CAUTION)
        caution.setProperty("role", "muted")
        caution.setWordWrap(True)
        caution.setContentsMargins(10, 0, 10, 4)
        self.practice = QLabel()
        self.practice.setWordWrap(True)
        self.practice.setProperty("role", "footer")
        self.practice.setContentsMargins(10, 0, 10, 0)
        self.practice.setText(
            "0, 25, 50, 75 and 100 % and 250 Ω: common practice; ±0.5 % of span: common practice, "
            "your procedure comes first"
        )
        self._lay_out(caution)
        self._connect()
        self._offer()
        self.refresh()

    def _lay_out(self, caution: QLabel) -> None:
        head = QHBoxLayout()
        head.setContentsMargins(10, 6, 8, 0)
        head.setSpacing(6)
        title = QLabel("Loop, 4 to 20 mA")
        title.setProperty("role", "title")
        head.addWidget(title)
        head.addWidget(self.outputs)
        head.addStretch(1)
        words = QLabel("meter reads")
        words.setProperty("role", "footer")
        head.addWidget(words)
        head.addWidget(self.meter)
        row = QHBoxLayout()
        row.setContentsMargins(10, 0, 8, 0)
        row.setSpacing(6)
        tips = (
            "Value that 4 mA stands for, µm or mil",
            "Value that 20 mA stands for, µm or mil",
            "Resistor that the voltage is read across, Ω: 250 Ω gives 1 to 5 V",
            "Allowed error either way, % of the span of 16 mA",
        )
        fields = (self.low, self.high, self.load, self.tolerance)
        for field, text, tip in zip(
            fields, ("4 mA at", "20 mA at", "load", "allowed ±"), tips, strict=True
        ):
            label = QLabel(text)
            label.setProperty("role", "footer")
            label.setBuddy(field)
            field.setToolTip(tip)
            field.setMinimumWidth(80)
            row.addWidget(label)
            row.addWidget(field)
        row.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(1, 1, 1, 1)
        column.setSpacing(6)
        column.addLayout(head)
        column.addLayout(row)
        column.addWidget(self.sheet, 1)
        column.addStretch(1)
        column.addWidget(self.practice)
        column.addWidget(caution)

    def _connect(self) -> None:
        session, check = self._session, self._session.check
        session.checks.answered.connect(self.refresh)
        check.changed.connect(self._show_fields)
        check.facts_changed.connect(self._offer)
        session.capture.setup_changed.connect(self._offer)
        session.unit.changed.connect(lambda _unit: self.refresh())
        self.outputs.chosen.connect(self._take_output)
        self.meter.chosen.connect(lambda volts: check.change_loop(in_volts=volts))
        self.sheet.typed.connect(self._type)
        self.sheet.pasted.connect(self._paste)
        self.low.changed.connect(lambda v: check.change_loop(low_um=self._um(v)))
        self.high.changed.connect(lambda v: check.change_loop(high_um=self._um(v)))
        self.load.changed.connect(lambda v: check.change_loop(load_ohm=v))
        self.tolerance.changed.connect(lambda v: check.change_loop(tolerance_percent=v))

    def dress(self) -> None:
        """Light or dark."""
        self.sheet.set_theme(theme_of(self._session.theme))

    def refresh(self) -> None:
        """Show the check as it was judged last."""
        session = self._session
        self.sheet.set_sheet(
            loop_sheet(session.checks.result, session.check.loop, session.unit.unit)
        )
        self._show_fields()

    def _show_fields(self) -> None:
        entry, unit = self._session.check.loop, self._session.unit.unit
        for field, value in ((self.low, entry.low_um), (self.high, entry.high_um)):
            field.set_measure(f" {unit.value}", 1 if unit.per_um == 1.0 else 2, 1.0)
            field.set_number(value * unit.per_um)
        self.load.set_measure(" Ω", 1, 10.0)
        self.load.set_number(entry.load_ohm)
        self.tolerance.set_measure(" %", 2, 0.1)
        self.tolerance.set_number(entry.tolerance_percent)
        self.meter.set_value(entry.in_volts)

    def _offer(self) -> None:
        """The outputs of the probe looked at."""
        setup, probe = self._session.capture.setup, self._session.check.probe
        outputs = [out for out in setup.output if out.probe == probe] if setup is not None else []
        options = [
            (f"{_MEASURES.get(out.measure, out.measure)} of {probe}", out, "From the setup")
            for out in outputs
        ]
        self.outputs.set_options(options)
        self.outputs.setVisible(bool(options))
        self.outputs.setText("from the setup ▾")

    def _take_output(self, output: object) -> None:
        low, high = output.range_um
        self.outputs.set_value(output)
        what = _MEASURES.get(output.measure, output.measure)
        self._session.check.change_loop(low_um=low, high_um=high, what=what)

    def _um(self, value: float) -> float:
        return value / self._session.unit.unit.per_um

    def _type(self, row: int, column: int, text: str) -> None:
        from analysis.views.probe_check import cell_of

        self._session.check.set_read(LOOP_STAGES[column], row, cell_of(text))

    def _paste(self, text: str, row: int, column: int) -> None:
        """One column of readings, down from the cell."""
        if column not in LOOP_STAGES:
            column = min(LOOP_STAGES)
        lines = [line for line in text.replace("\r", "\n").split("\n") if line.strip()]
        for place, line in enumerate(lines[: len(self._session.check.loop.found) - row]):
            self._type(row + place, column, line.split("\t")[0])

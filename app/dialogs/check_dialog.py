"""What a person says of a probe check before its record is written."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QFormLayout, QLabel, QWidget

from .record_dialog import LINE_MAX, NOTE, InstrumentRow, RecordDialog
from .small_line import line_field

if TYPE_CHECKING:
    from analysis.model.record import Instrument, ProbeIdentity
    from analysis.reporting.record import CheckHead

CHECK_NOTE = (
    "Nothing has to be filled in: what is left empty stays an open line in the record, to be "
    "written by hand. Name the calibrator and the voltmeter with their calibrations."
)


class CheckDialog(RecordDialog):
    """As for any record, with the serial numbers of the chain; filled in as it was last time."""

    def __init__(
        self,
        chain: ProbeIdentity,
        before: CheckHead | None,
        source: str,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(source, parent)
        self._chain = chain
        self.setWindowTitle("Record of the probe check")
        self.probe_serial = line_field("Serial number of the probe", LINE_MAX)
        self.cable_serial = line_field("Serial number of the extension cable", LINE_MAX)
        self.driver_serial = line_field("Serial number of the driver", LINE_MAX)
        form = self.findChild(QFormLayout)
        # As found and as left stand in the tables themselves.
        form.setRowVisible(self.stages, False)
        for place, (words, field) in enumerate(
            (
                ("Probe serial", self.probe_serial),
                ("Cable serial", self.cable_serial),
                ("Driver serial", self.driver_serial),
            ),
            3,
        ):
            form.insertRow(place, words, field)
        for label in self.findChildren(QLabel):
            if label.text() == NOTE:
                label.setText(CHECK_NOTE)
        if before is not None:
            self._fill(before)

    def head(self) -> CheckHead:
        """What was filled in."""
        chain = self._chain.model_copy(
            update={
                "probe_serial": self.probe_serial.text().strip(),
                "cable_serial": self.cable_serial.text().strip(),
                "driver_serial": self.driver_serial.text().strip(),
            }
        )
        return replace(super().head(), chains=(chain,))

    def _fill(self, before: CheckHead) -> None:
        for field, text in (
            (self.number, before.number),
            (self.site, before.site),
            (self.made_by, before.made_by),
            (self.remarks, before.remarks),
            (self.ambient, "" if before.ambient_c is None else f"{before.ambient_c:g}"),
        ):
            field.setText(text)
        for row, instrument in zip(self.instruments, before.instruments, strict=False):
            _fill_row(row, instrument)
        same = [chain for chain in before.chains if chain.name == self._chain.name]
        for chain in same[:1]:
            self.probe_serial.setText(chain.probe_serial)
            self.cable_serial.setText(chain.cable_serial)
            self.driver_serial.setText(chain.driver_serial)


def _fill_row(row: InstrumentRow, instrument: Instrument) -> None:
    row.name.setText(instrument.name)
    row.serial.setText(instrument.serial)
    for field, day in ((row.calibrated, instrument.calibrated_on), (row.due, instrument.due_on)):
        field.setText("" if day is None else day.isoformat())

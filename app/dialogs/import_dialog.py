"""The dialog of the CSV import: how the file is written, what each column is, how it reads."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QIcon
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QDialog,
    QDialogButtonBox,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QScrollArea,
    QSpinBox,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from analysis.files.csv_layout import CsvColumn, CsvLayout

from .channel_rows import number_of

if TYPE_CHECKING:
    from analysis.files.csv_preview import CsvPreview, PreviewColumn

_SEPARATORS: Final = (("comma ,", ","), ("semicolon ;", ";"), ("tab", "\t"))
_DECIMALS: Final = (("point 1.5", "."), ("comma 1,5", ","))
_TIME_UNITS: Final = (("s", "s"), ("ms", "ms"), ("µs", "us"), ("date and time", "stamp"))
_USES: Final = (("channel", "channel"), ("time", "time"), ("leave out", "out"))
_UNITS: Final = (("V", "V"), ("mV", "mV"))
FIRST_FIELDS = 4


class _ColumnFields:
    """What one column of the file is."""

    def __init__(self, column: PreviewColumn, layout: CsvLayout, grid: QGridLayout, row: int):
        self.name = column.name
        said = {c.name: c for c in layout.columns}.get(column.name)
        use = "out" if column.role == "text" else column.role
        if layout.columns and use == "channel" and said is None:
            use = "out"
        self.use = _combo(_USES, use, f"Column {column.name} is")
        self.channel = QLineEdit((said.channel if said else "") or column.name)
        self.channel.setAccessibleName(f"Channel of column {column.name}")
        unit = (said.unit if said else None) or ("mV" if column.unit == "mV" else "V")
        self.unit = _combo(_UNITS, unit, f"Unit of column {column.name}")
        fields = QLabel("   ".join(column.fields[:FIRST_FIELDS]))
        fields.setProperty("role", "muted")
        title = QLabel(column.name)
        title.setProperty("role", "title")
        for at, widget in enumerate((title, self.use, self.channel, self.unit, fields)):
            grid.addWidget(widget, row, at)
        self.use.currentIndexChanged.connect(self.enable)
        self.enable()

    def enable(self) -> None:
        """Only a channel has a name and a unit."""
        is_channel = self.use.currentData() == "channel"
        self.channel.setEnabled(is_channel)
        self.unit.setEnabled(is_channel)

    def said(self) -> CsvColumn:
        """The column as a channel."""
        return CsvColumn(
            self.name, self.channel.text().strip() or self.name, self.unit.currentData()
        )


class ImportDialog(QDialog):
    """Says `layout_changed(CsvLayout)` at every change, and is answered by `show_preview`."""

    layout_changed = Signal(object)

    def __init__(self, file_name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle(f"What are the columns of {file_name}?")
        self._filling = True
        self._columns: list[_ColumnFields] = []
        self._shown: tuple[str, ...] | None = None
        self.separator = _combo(_SEPARATORS, ",", "Separator")
        self.decimal = _combo(_DECIMALS, ".", "Decimal mark")
        self.skip = QSpinBox()
        self.skip.setRange(0, 10_000)
        self.skip.setAccessibleName("Lines before the table")
        self.header = QCheckBox("a line of column names")
        self.time_unit = _combo(_TIME_UNITS, "s", "Unit of the time column")
        self.rate = QLineEdit()
        self.rate.setPlaceholderText("from the times")
        self.rate.setFixedWidth(120)
        self.rate.setAccessibleName("Sampling rate, Hz")
        self.rate.setToolTip("Samples a second; empty: from the time column")
        self.rows = QTableWidget()
        self.rows.setEditTriggers(QTableWidget.EditTrigger.NoEditTriggers)
        self.rows.setAccessibleName("First lines of the file")
        self.rows.horizontalHeader().hide()
        self.problems = QLabel()
        self.problems.setProperty("role", "trip")
        self.problems.setWordWrap(True)
        self.problems.setTextFormat(Qt.TextFormat.PlainText)
        self._lay_out()
        self._connect()
        self._filling = False

    def _lay_out(self) -> None:
        form = QHBoxLayout()
        for label, widget in (
            ("separator", self.separator),
            ("decimal", self.decimal),
            ("leave out lines", self.skip),
            ("", self.header),
            ("times in", self.time_unit),
            ("rate, Hz", self.rate),
        ):
            if label:
                form.addWidget(_muted(label))
            form.addWidget(widget)
        form.addStretch(1)
        self._area = QScrollArea()
        self._area.setWidgetResizable(True)
        self._area.setAccessibleName("Columns")
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Cancel)
        self.open_button = buttons.addButton("Open", QDialogButtonBox.ButtonRole.AcceptRole)
        self.open_button.setProperty("role", "primary")
        self.open_button.setEnabled(False)
        buttons.button(QDialogButtonBox.StandardButton.Cancel).setIcon(QIcon())
        buttons.accepted.connect(self.accept)
        buttons.rejected.connect(self.reject)
        column = QVBoxLayout(self)
        column.setContentsMargins(16, 14, 16, 12)
        column.setSpacing(10)
        column.addLayout(form)
        column.addWidget(self._area, 3)
        column.addWidget(_muted("first lines of the file"))
        column.addWidget(self.rows, 2)
        column.addWidget(self.problems)
        column.addWidget(buttons)
        self.resize(960, 640)

    def _connect(self) -> None:
        for combo in (self.separator, self.decimal, self.time_unit):
            combo.currentIndexChanged.connect(self._changed)
        self.skip.valueChanged.connect(self._changed)
        self.header.toggled.connect(self._changed)
        self.rate.textChanged.connect(self._changed)

    def layout_said(self) -> CsvLayout:
        """The layout as it is said now."""
        times = [c.name for c in self._columns if c.use.currentData() == "time"]
        rate = number_of(self.rate.text())
        separator, decimal = self.separator.currentData(), self.decimal.currentData()
        return CsvLayout(
            separator=separator,
            # A decimal comma cannot be told from a comma between columns.
            decimal="." if separator == "," else decimal,
            skip_rows=self.skip.value(),
            has_header=self.header.isChecked(),
            columns=tuple(c.said() for c in self._columns if c.use.currentData() == "channel"),
            time_column=times[0] if times else None,
            time_unit=self.time_unit.currentData() if times else None,
            sample_rate_hz=rate,
        )

    def show_preview(self, preview: CsvPreview) -> None:
        """Show what the file looks like when it is read so."""
        self._filling = True
        layout = preview.layout
        _choose(self.separator, layout.separator)
        _choose(self.decimal, layout.decimal)
        self.skip.setValue(layout.skip_rows)
        self.header.setChecked(layout.has_header)
        if layout.time_unit is not None:
            _choose(self.time_unit, layout.time_unit)
        names = tuple(column.name for column in preview.columns)
        if names != self._shown:
            self._shown = names
            self._fill_columns(preview)
        self._fill_rows(preview)
        self._filling = False
        self.show_problems(preview.problems)

    def show_problems(self, problems: tuple[str, ...]) -> None:
        """What stands in the way of opening the file."""
        self.problems.setText("\n".join(problems))
        self.problems.setVisible(bool(problems))
        self.open_button.setEnabled(not problems)

    def _fill_columns(self, preview: CsvPreview) -> None:
        inner = QWidget()
        grid = QGridLayout(inner)
        grid.setHorizontalSpacing(10)
        for at, heading in enumerate(("column", "is a", "channel", "in", "first values")):
            grid.addWidget(_muted(heading), 0, at)
        self._columns = [
            _ColumnFields(column, preview.layout, grid, row + 1)
            for row, column in enumerate(preview.columns)
        ]
        grid.setColumnStretch(4, 1)
        grid.setRowStretch(len(self._columns) + 1, 1)
        for fields in self._columns:
            fields.use.currentIndexChanged.connect(self._changed)
            fields.unit.currentIndexChanged.connect(self._changed)
            fields.channel.textChanged.connect(self._changed)
        self._area.setWidget(inner)

    def _fill_rows(self, preview: CsvPreview) -> None:
        width = max((len(row) for row in preview.rows), default=0)
        self.rows.setRowCount(len(preview.rows))
        self.rows.setColumnCount(width)
        for number, row in enumerate(preview.rows):
            for at in range(width):
                text = row[at] if at < len(row) else ""
                self.rows.setItem(number, at, QTableWidgetItem(text))
        lines = [str(preview.first_line + number) for number in range(len(preview.rows))]
        self.rows.setVerticalHeaderLabels(lines)

    def _changed(self, *_value: object) -> None:
        if self._filling:
            return
        for fields in self._columns:
            fields.enable()
        self.layout_changed.emit(self.layout_said())


def _combo(options: tuple[tuple[str, str], ...], value: str, name: str) -> QComboBox:
    combo = QComboBox()
    for text, data in options:
        combo.addItem(text, data)
    combo.setAccessibleName(name)
    combo.setToolTip(name)
    _choose(combo, value)
    return combo


def _choose(combo: QComboBox, value: object) -> None:
    index = combo.findData(value)
    if index >= 0:
        combo.setCurrentIndex(index)


def _muted(text: str) -> QLabel:
    label = QLabel(text)
    label.setProperty("role", "muted")
    return label

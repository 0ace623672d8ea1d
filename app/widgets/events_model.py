"""The events of a replay as a table: those in force, and beside them what a trial makes of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QPersistentModelIndex, Qt

from analysis.model.units import LengthUnit

from .event_words import event_mark, event_words, reading_words, time_words

if TYPE_CHECKING:
    from analysis.model.replay_results import LimitEvent, ReplayChange, ReplayResult

Index = QModelIndex | QPersistentModelIndex

COLUMNS = ("time", "probe", "what happened", "reading", "first-out", "on trial")
TIME, PROBE, WHAT, READING, FIRST_OUT, ON_TRIAL = range(6)

_TIPS = (
    "Capture time, s. Click a row: the moment goes there",
    "The probe, or all probes of the limit",
    "Which limit changed its state, and why",
    "The measure at that time; p-p, or gap for position limits",
    "The order in which limits of the same level have set since all of them were clear: "
    "1 set first",
    "What the settings on trial would have made of it",
)


@dataclass(frozen=True)
class EventRow:
    """An event, its words, and what the trial makes of it: empty, `gone`, `new`, or a time."""

    event: LimitEvent
    what: str
    on_trial: str


def event_rows(
    in_force: ReplayResult | None,
    trial: ReplayResult | None = None,
    changes: tuple[ReplayChange, ...] = (),
) -> tuple[EventRow, ...]:
    """The events in force, and those that would have come besides, in order of time."""
    if in_force is None:
        return ()
    moved = {change.before: change.after for change in changes if change.kind == "moved"}
    kept = {_key(event) for event in trial.events} if trial is not None else set()

    def mark(event: LimitEvent) -> str:
        after = moved.get(event)
        if after is not None:
            return time_words(after)
        return "" if trial is None or _key(event) in kept else "gone"

    rows = [
        EventRow(event, event_words(event, in_force.setup), mark(event))
        for event in in_force.events
    ]
    if trial is not None:
        known = {_key(event) for event in in_force.events}
        known |= {_key(event) for event in moved.values() if event is not None}
        rows += [
            EventRow(event, event_words(event, trial.setup), "new")
            for event in trial.events
            if _key(event) not in known
        ]
        rows.sort(key=lambda row: row.event.time_s)
    return tuple(rows)


def _key(event: LimitEvent) -> tuple[object, ...]:
    """What makes an event the same one in two replays of a capture: ticks are 0.1 s apart."""
    return event.index, event.event, event.probes, round(event.time_s, 2)


class EventsModel(QAbstractTableModel):
    """Holds the rows; the newest answer changes them in place where their number stays."""

    def __init__(self) -> None:
        super().__init__()
        self._rows: tuple[EventRow, ...] = ()
        self._texts: tuple[tuple[str, ...], ...] = ()
        self._unit = LengthUnit.UM

    @property
    def rows(self) -> tuple[EventRow, ...]:
        """The rows shown."""
        return self._rows

    @property
    def unit(self) -> LengthUnit:
        """The display unit."""
        return self._unit

    def set_rows(self, rows: tuple[EventRow, ...]) -> None:
        """Show these."""
        if len(rows) != len(self._rows):
            self.beginResetModel()
            self._rows = rows
            self._write()
            self.endResetModel()
        elif rows != self._rows:
            self._rows = rows
            self._write()
            self._tell()

    def set_unit(self, unit: LengthUnit) -> None:
        """Show lengths in this unit."""
        if unit is self._unit:
            return
        self._unit = unit
        self._write()
        self._tell()

    def text(self, row: int, column: int) -> str:
        """What a cell says."""
        return self._texts[row][column]

    def rowCount(self, parent: Index | None = None) -> int:
        """Events."""
        return 0 if parent is not None and parent.isValid() else len(self._rows)

    def columnCount(self, parent: Index | None = None) -> int:
        """What is told of an event."""
        return 0 if parent is not None and parent.isValid() else len(COLUMNS)

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        """Text, the whole story as tooltip, words for a screen reader."""
        if not index.isValid():
            return None
        if role == Qt.ItemDataRole.DisplayRole:
            return self._texts[index.row()][index.column()]
        row = self._rows[index.row()]
        if role == Qt.ItemDataRole.ToolTipRole:
            return self._story(index.row(), row)
        if role == Qt.ItemDataRole.AccessibleTextRole:
            return f"{COLUMNS[index.column()]}: {self._texts[index.row()][index.column()]}"
        return None

    def headerData(
        self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole
    ) -> Any:
        """Names of the columns, and what they are."""
        if orientation is Qt.Orientation.Vertical or section >= len(COLUMNS):
            return None
        if role == Qt.ItemDataRole.DisplayRole:
            return COLUMNS[section]
        if role == Qt.ItemDataRole.ToolTipRole:
            return _TIPS[section]
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
        return None

    def _story(self, number: int, row: EventRow) -> str:
        texts = self._texts[number]
        lines = [f"{texts[TIME]}, {texts[PROBE]}: {row.what}, {texts[READING]}", row.event.why]
        if row.on_trial == "gone":
            lines.append("on trial: would not have come")
        elif row.on_trial == "new":
            lines.append("on trial: would have come besides")
        elif row.on_trial:
            lines.append(f"on trial: at {row.on_trial}")
        return "\n".join(line for line in lines if line)

    def _write(self) -> None:
        self._texts = tuple(self._texts_of(row) for row in self._rows)

    def _texts_of(self, row: EventRow) -> tuple[str, ...]:
        event = row.event
        return (
            time_words(event),
            ", ".join(event.probes),
            f"{event_mark(event)[0]} {row.what}",
            reading_words(event, self._unit),
            "" if event.first_out is None else str(event.first_out),
            row.on_trial,
        )

    def _tell(self) -> None:
        if self._rows:
            last = self.index(len(self._rows) - 1, len(COLUMNS) - 1)
            self.dataChanged.emit(self.index(0, 0), last)

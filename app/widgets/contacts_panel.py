"""Relays at the moment: what drives them, and what a meter across each contact would read."""

from __future__ import annotations

import bisect
from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtGui import QColor
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHeaderView,
    QLabel,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from app.plots import style

from . import words

if TYPE_CHECKING:
    from analysis.model.replay_results import RelayRun, ReplayResult
    from analysis.model.setup import Relay

ASSUMED = (
    "The setup describes no relays: these two are assumed (common practice), normally open, "
    "coil energised only while something acts. The owner's drawings decide."
)
GIVEN = "As the setup describes them; the owner's drawings decide."
EMPTY = "The contacts stand here once the limits have been replayed."

RELAY, DRIVEN_BY, STATE, METER, ON_TRIAL = range(5)
_TITLES = ("relay", "driven by", "state", "meter reads", "on trial")
_TIPS = (
    "The relay, its contact with the coil dead, and when its coil has current",
    "The limits or faults that make it act",
    "Whether something that drives it acts at the moment, and whether its coil has current",
    "What a meter across the contact reads at the moment with the settings in force: "
    "closed (near 0 Ω) or open (no continuity)",
    "The same with the settings on trial",
)


def run_at(runs: Sequence[RelayRun], moment_s: float) -> RelayRun | None:
    """The run that holds at a moment; before the first one and after the last: `None`."""
    if not runs or moment_s < runs[0].start_s or moment_s > runs[-1].end_s:
        return None
    starts = [run.start_s for run in runs]
    return runs[max(bisect.bisect_right(starts, moment_s) - 1, 0)]


def meter_words(run: RelayRun | None) -> str:
    """What a meter reads."""
    word = contact_words(run)
    return f"{word}, ≈ 0 Ω" if run is not None and run.closed else word


def contact_words(run: RelayRun | None) -> str:
    """Whether the contact is closed, in one word."""
    if run is None:
        return words.DASH
    return "closed" if run.closed else "open"


def state_words(run: RelayRun | None) -> str:
    """Whether it acts, and its coil."""
    if run is None:
        return words.DASH
    coil = "coil on" if run.energised else "coil off"
    return f"{'acts' if run.active else 'at rest'}, {coil}"


def driver_words(relay: Relay) -> str:
    """What makes it act."""
    kind = {"alarm": "alarm", "trip": "trip", "fault": "circuit fault"}[relay.driven_by]
    return f"any {kind} of {', '.join(relay.probes)}" if relay.probes else f"any {kind}"


def kind_words(relay: Relay) -> str:
    """Contact and coil, for the tooltip."""
    contact = relay.contact.replace("_", " ")
    coil = "while nothing acts" if relay.energised == "healthy" else "only while something acts"
    return f"{relay.name}, {driver_words(relay)}: {contact} contact, coil energised {coil}"


class ContactsPanel(QWidget):
    """A row a relay."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._shown: object = None
        self.table = QTableWidget(0, len(_TITLES))
        self.table.setAccessibleName("Relays and their contacts at the moment")
        self.table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.table.setSelectionMode(QAbstractItemView.SelectionMode.NoSelection)
        self.table.setShowGrid(False)
        self.table.setTabKeyNavigation(False)
        self.table.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.table.verticalHeader().hide()
        self.table.verticalHeader().setDefaultSectionSize(24)
        header = self.table.horizontalHeader()
        header.setFont(style.font("small"))
        header.setHighlightSections(False)
        header.setMinimumSectionSize(20)
        header.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        for column in (RELAY, DRIVEN_BY):
            header.setSectionResizeMode(column, QHeaderView.ResizeMode.Stretch)
        for column, (title, tip) in enumerate(zip(_TITLES, _TIPS, strict=True)):
            item = QTableWidgetItem(title)
            item.setToolTip(tip)
            item.setTextAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
            self.table.setHorizontalHeaderItem(column, item)
        self.note = QLabel(EMPTY)
        self.note.setProperty("role", "footer")
        self.note.setWordWrap(True)
        self.note.setContentsMargins(10, 0, 10, 4)
        self._theme = style.Theme.LIGHT
        column = QVBoxLayout(self)
        column.setContentsMargins(2, 0, 2, 0)
        column.setSpacing(2)
        column.addWidget(self.table, 1)
        column.addWidget(self.note)

    def set_theme(self, theme: style.Theme) -> None:
        """Light or dark."""
        self._theme = theme
        self._shown = None

    def show_relays(
        self,
        relays: tuple[Relay, ...],
        in_force: ReplayResult | None,
        trial: ReplayResult | None,
        moment_s: float,
    ) -> None:
        """The relays at a moment; `None` where nothing has been replayed."""
        if in_force is None:
            self.table.setRowCount(0)
            self.note.setText(EMPTY)
            self._shown = None
            return
        rows = tuple(
            (
                relay,
                run_at(in_force.relays.get(relay.name, ()), moment_s),
                run_at(trial.relays.get(relay.name, ()), moment_s) if trial is not None else None,
            )
            for relay in relays
        )
        shown = (rows, trial is not None)
        if shown == self._shown:
            return
        self._shown = shown
        self.note.setText(GIVEN if in_force.setup.relay else ASSUMED)
        self.table.setColumnHidden(ON_TRIAL, trial is None)
        self.table.setRowCount(len(rows))
        for number, (relay, now, tried) in enumerate(rows):
            texts = (
                relay.name,
                driver_words(relay),
                state_words(now),
                meter_words(now),
                contact_words(tried),
            )
            for column, text in enumerate(texts):
                self._write(number, column, text, kind_words(relay))
            self._colour(self.table.item(number, STATE), relay, now)
            differs = tried is not None and now is not None and tried.closed != now.closed
            if differs:
                ink = QColor(style.palette(self._theme).accent_ink)
                self.table.item(number, ON_TRIAL).setForeground(ink)

    def texts(self) -> list[list[str]]:
        """What the table says."""
        return [
            [self.table.item(row, column).text() for column in range(len(_TITLES))]
            for row in range(self.table.rowCount())
        ]

    def _write(self, row: int, column: int, text: str, tip: str) -> None:
        item = QTableWidgetItem(text)
        item.setToolTip(tip if column < STATE else f"{tip}\n{_TIPS[column]}")
        item.setData(Qt.ItemDataRole.AccessibleTextRole, f"{_TITLES[column]}: {text}")
        self.table.setItem(row, column, item)

    def _colour(self, item: QTableWidgetItem, relay: Relay, run: RelayRun | None) -> None:
        if run is not None and run.active:
            item.setForeground(style.condition_ink(relay.driven_by, self._theme))

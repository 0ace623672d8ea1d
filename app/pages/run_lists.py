"""The lists of the Run page: critical speeds, components of no whole order, the other run."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QLabel, QVBoxLayout, QWidget

from app.plots.difference_plot import DifferencePlot, DifferenceView
from app.widgets.rows_table import RowsTable
from app.widgets.run_words import (
    COMPONENT_COLUMNS,
    CRITICAL_COLUMNS,
    component_rows,
    critical_rows,
    doubts_words,
)
from app.widgets.tab_card import TabCard
from app.widgets.theming import theme_of

if TYPE_CHECKING:
    from app.session.session import Session

LOOKING = "Looking for critical speeds…"
NOT_YET = (
    "Open a capture in which the speed changes, with a phase reference; or a table of vectors."
)
NO_COMPONENTS = "No component that is no whole order of speed stands clear of the noise."
NO_SAMPLES = "A table of vectors has no waveforms to look in. Open the capture itself."
COMPARING = "The other run is there; the difference comes when both have been looked through…"
LISTING = "Components are looked for when the critical speeds are known…"


class RunLists(TabCard):
    """Follows the session's answers while it is in sight. `moment_wanted(t)`: go there."""

    moment_wanted = Signal(float)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        self._session = session
        self.criticals = RowsTable(
            "Critical speeds, r/min",
            CRITICAL_COLUMNS,
            first_to_go=("Run", "Half-power", "by phase", "smoothed"),
        )
        self.components = RowsTable(
            "Components that are no whole order",
            COMPONENT_COLUMNS,
            first_to_go=("Lasted", "From", "Speeds"),
        )
        self.difference = DifferencePlot()
        self.remarks = QLabel()
        self.remarks.setProperty("role", "footer")
        self.remarks.setWordWrap(True)
        self.remarks.setContentsMargins(8, 0, 8, 4)
        self.remarks.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        against = QWidget()
        column = QVBoxLayout(against)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(self.difference, 1)
        column.addWidget(self.remarks)
        super().__init__(
            "Findings of the run",
            [
                (
                    "criticals",
                    "Critical speeds",
                    "Peaks with a phase change, r/min, µm or mil p-p",
                    self.criticals,
                ),
                (
                    "components",
                    "Non-order components",
                    "Sub-synchronous and other components that are no whole order, Hz",
                    self.components,
                ),
                (
                    "difference",
                    "Against another run",
                    "The difference vector against speed, µm or mil p-p",
                    against,
                ),
            ],
            parent=parent,
        )
        for table in (self.criticals, self.components):
            table.moment_wanted.connect(self.moment_wanted)
        self.difference.set_empty_text(DifferencePlot.EMPTY)

    def copy(self) -> None:
        """Put the list in sight on the clipboard."""
        (self.components if self.leaf == "components" else self.criticals).copy()

    def dress(self) -> None:
        """Light or dark."""
        theme = theme_of(self._session.theme)
        for part in (self.criticals, self.components, self.difference):
            part.set_theme(theme)

    def set_unit(self, unit: object) -> None:
        """Lengths in this unit."""
        self.difference.set_unit(unit)

    def write(
        self, shown: tuple[str, ...], planes: tuple[str, ...], places: dict[str, int]
    ) -> None:
        """Everything as it was answered last, of the probes shown."""
        session, unit = self._session, self._session.unit.unit
        run, response = session.run, session.run.response
        if response is None:
            self.criticals.set_empty_text(LOOKING if run.looking else NOT_YET)
            self.criticals.set_rows(())
        else:
            rows = critical_rows(response, shown, planes, unit)
            notices = [
                notice
                for name in shown
                if name in response.probes
                for notice in response.probes[name].notices
            ]
            said = doubts_words(notices) or "No peak with a phase change through it was found."
            self.criticals.set_empty_text(said)
            self.criticals.set_rows(rows)
            count = sum(not row.quiet for row in rows)
            self.set_title("criticals", f"Critical speeds ({count})")
        found = session.cascade.components
        self.components.set_empty_text(
            NO_SAMPLES if run.table is not None else LISTING if found is None else NO_COMPONENTS
        )
        self.components.set_rows(component_rows(found, unit) if found else ())
        count = f" ({len(found)})" if found else ""
        self.set_title("components", f"Non-order components{count}")
        self._write_difference(shown, places)

    def _write_difference(self, shown: tuple[str, ...], places: dict[str, int]) -> None:
        laid = self._session.laid_over
        overlays = {name: laid.overlays[name] for name in shown if name in laid.overlays}
        doubts = [*laid.doubts, *(doubt for each in overlays.values() for doubt in each.doubts)]
        told = doubts_words(list(dict.fromkeys(doubts)))
        self.remarks.setText(f"Doubt: {told}" if told and overlays else "")
        self.remarks.setVisible(bool(self.remarks.text()))
        if laid.other is None or not overlays:
            text = DifferencePlot.EMPTY if laid.other is None else told or COMPARING
            self.difference.set_empty_text(text)
            self.difference.show_result(None)
            return
        operating = self._session.run.response and self._session.run.response.operating_rpm
        self.difference.show_result(
            DifferenceView(overlays, places, laid.other.name, operating or None, laid.order)
        )

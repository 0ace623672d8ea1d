"""The Probe check page: is the measuring chain right?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Signal
from PySide6.QtGui import QHideEvent, QShowEvent
from PySide6.QtWidgets import QStackedWidget, QVBoxLayout, QWidget

from app.widgets import words
from app.widgets.theming import theme_of
from app.widgets.whole_page import WholePage
from app.work.one_a_turn import OneATurn
from app.work.step import Step

from .probe_check_head import ProbeCheckHead
from .probe_check_leaves import Leaf, LoopLeaf, RunLeaf, TableLeaf

if TYPE_CHECKING:
    from app.plots.plot import Plot
    from app.session.session import Session

GAP = 10
CHECKS = ("table", "run", "loop")
AHEAD_MS = 60
"""What nobody has asked for yet is made in turns of their own, with time for others between."""


class ProbeCheckPage(WholePage):
    """Calibration table, calibrator run and loop check of one probe, one at a time.

    Works without a capture, too. What is typed goes to the session's check, and every figure comes
    from its reader. `record_wanted()`, `record_open_wanted()` and `write_wanted()`: the check in
    sight is to be recorded, a record opened again, the curve on trial written to a setup.
    """

    record_wanted = Signal()
    record_open_wanted = Signal()
    write_wanted = Signal()

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._leaves: dict[str, Leaf] = {}
        self._turns = OneATurn(self)
        self._ahead = Step(self, AHEAD_MS, self._make_ahead)
        self.head = ProbeCheckHead(session)
        self._stack = QStackedWidget()
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(GAP)
        column.addWidget(self.head)
        column.addWidget(self._stack, 1)
        self._connect()
        self._ahead.start()

    def plots(self) -> tuple[Plot, ...]:
        """Every picture in sight."""
        return self.leaf().plots()

    def leaf(self) -> Leaf:
        """The check in sight; made now where it has not been."""
        return self._make(self._session.check.check)

    def is_drawn(self) -> bool:
        """Whether nothing waits for a turn of the event loop."""
        return self._turns.is_idle()

    def _make_ahead(self) -> None:
        """A check or a picture that has not been made; a turn each."""
        if not self._turns.is_idle():
            self._ahead.start()
            return
        for key in CHECKS:
            if key not in self._leaves:
                self._make(key)
                self._ahead.start()
                return
            if self._leaves[key].make_next():
                self._ahead.start()
                return

    def _make(self, key: str) -> Leaf:
        if key not in self._leaves:
            leaf = {"table": TableLeaf, "run": RunLeaf, "loop": LoopLeaf}[key](
                self._session, self._turns
            )
            self._leaves[key] = leaf
            self._stack.addWidget(leaf)
            if isinstance(leaf, TableLeaf):
                leaf.effect.write_wanted.connect(self.write_wanted)
            leaf.set_unit(self._session.unit.unit)
            leaf.dress(theme_of(self._session.theme))
        return self._leaves[key]

    def fit(self) -> None:
        """Scale every picture to what it shows."""
        for plot in self.plots():
            plot.fit()

    def copy_readings(self) -> None:
        """Put the sheet in sight on the clipboard."""
        self.leaf().copy()

    def _connect(self) -> None:
        session = self._session
        session.checks.answered.connect(self._draw)
        session.checks.phase_changed.connect(self._draw)
        session.check.facts_changed.connect(self._show_leaf)
        session.capture.setup_changed.connect(self._draw)
        session.unit.changed.connect(self._set_unit)
        session.theme.changed.connect(self._dress)
        session.moment.moved.connect(lambda _moment: self._show_moment())
        session.zoom.changed.connect(self._show_moment)
        session.span.changed.connect(self._show_moment)
        self.head.record_wanted.connect(self.record_wanted)
        self.head.record_open_wanted.connect(self.record_open_wanted)

    def showEvent(self, event: QShowEvent) -> None:
        """Ask, and show what there is."""
        super().showEvent(event)
        leaf = self._stack.currentWidget()
        for part in leaf.parts() if isinstance(leaf, Leaf) else ():
            self._turns.paint_later(part)
        self._show_leaf()
        self._session.checks.want(True)

    def hideEvent(self, event: QHideEvent) -> None:
        """Nobody looks."""
        super().hideEvent(event)
        self._session.checks.want(False)

    def _show_leaf(self) -> None:
        """The check in sight comes to the front; where it is new, after a turn for making it."""
        if not self.isVisible():
            return
        self.head.refresh()
        key = self._session.check.check
        if key not in self._leaves:
            self._turns.put(key, lambda: self._make(key))
        self._turns.put("show", self._bring)

    def _bring(self) -> None:
        leaf = self.leaf()
        if self._stack.currentWidget() is not leaf:
            for part in leaf.parts():
                self._turns.paint_later(part)
            self._stack.setCurrentWidget(leaf)
        self._draw()

    def _draw(self) -> None:
        if not self.isVisible():
            return
        self.head.refresh()
        leaf = self._leaves.get(self._session.check.check)
        if leaf is not None:
            leaf.draw()
            self._show_moment()

    def _show_moment(self) -> None:
        leaf = self._leaves.get(self._session.check.check)
        if self.isVisible() and leaf is not None:
            moment_s = self._session.moment.moment_s
            leaf.show_moment(moment_s, words.seconds(moment_s))

    def _set_unit(self, unit: object) -> None:
        self._forget_unseen()
        for leaf in self._leaves.values():
            leaf.set_unit(unit)
        self._draw()

    def _dress(self) -> None:
        theme = theme_of(self._session.theme)
        self._forget_unseen()
        self.head.refresh()
        for leaf in self._leaves.values():
            leaf.dress(theme)

    def _forget_unseen(self) -> None:
        """Pictures that nobody sees are drawn anew when they are seen again."""
        for leaf in self._leaves.values():
            if not leaf.isVisible():
                for plot in leaf.plots():
                    plot.show_result(None)

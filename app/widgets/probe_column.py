"""The left column: one card a probe, scrolling when there are many."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QScrollArea, QVBoxLayout, QWidget

from .probe_card import ProbeCard
from .speed_card import SpeedCard
from .theming import theme_of

if TYPE_CHECKING:
    from app.session.session import Session


class ProbeColumn(QScrollArea):
    """Follows the session: the cards of its setup, and what the moment's answer says of each."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._cards: list[ProbeCard] = []
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setAccessibleName("Probes")
        self.viewport().setAutoFillBackground(False)
        inner = QWidget()
        inner.setAutoFillBackground(False)
        self._column = QVBoxLayout(inner)
        self._column.setContentsMargins(0, 0, 0, 0)
        self._column.setSpacing(8)
        self.speed = SpeedCard()
        self._column.addWidget(self.speed)
        self._column.addStretch(1)
        self.setWidget(inner)
        inner.setAutoFillBackground(False)
        session.capture.setup_changed.connect(self._rebuild)
        session.reader.calm.passed.connect(self._show_answer)
        session.unit.changed.connect(lambda unit: [card.set_unit(unit) for card in self._cards])
        session.theme.changed.connect(self._dress)
        session.choice.changed.connect(lambda _names: self._mark_chosen())
        self._rebuild()

    @property
    def cards(self) -> tuple[ProbeCard, ...]:
        """The cards, in the order of the setup."""
        return tuple(self._cards)

    def _rebuild(self) -> None:
        for card in self._cards:
            self._column.removeWidget(card)
            card.deleteLater()
        self._cards = []
        setup, capture = self._session.capture.setup, self._session.capture.capture
        if setup is not None and capture is not None:
            for index, probe in enumerate(setup.probe):
                there = probe.channel in capture.channels
                card = ProbeCard(probe, index, setup, recorded=there)
                card.set_unit(self._session.unit.unit)
                card.activated.connect(self._session.choose_probe)
                self._column.insertWidget(index + 1, card, 100)
                self._cards.append(card)
        self._dress()
        self._show_answer()
        self._mark_chosen()

    def _dress(self) -> None:
        theme = theme_of(self._session.theme)
        self.speed.set_theme(theme)
        for card in self._cards:
            card.set_theme(theme)

    def _show_answer(self) -> None:
        result = self._session.reader.result
        self.speed.set_reading(
            result.readings.speed if result else None, result.request.moment_s if result else None
        )
        for card in self._cards:
            card.set_reading(result.readings.probes.get(card.probe.name) if result else None)

    def _mark_chosen(self) -> None:
        chosen = self._session.timeline_probe()
        for card in self._cards:
            card.set_chosen(card.probe.name == chosen)

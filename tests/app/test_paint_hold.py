"""A window that changes as a whole is painted card by card, and all of it in the end."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QEvent, QObject

from app.plots.card import Card
from app.widgets.probe_column import ProbeColumn
from tests.app.conftest import settled

TIMEOUT_MS = 20_000


class Painted(QObject):
    """When which part of the window was painted, by turns of the event loop."""

    def __init__(self, parts):
        super().__init__()
        self.turn = 0
        self.order = []
        self._name = {}
        for number, part in enumerate(parts):
            part.installEventFilter(self)
            self._name[part] = number
        self.startTimer(0)

    def timerEvent(self, _event):
        self.turn += 1

    def eventFilter(self, watched, event):
        if event.type() == QEvent.Type.Paint:
            self.order.append((self.turn, self._name[watched]))
        return False


def parts_of(window):
    centre = window.centralWidget()
    found = [*centre.findChildren(Card), *centre.findChildren(ProbeColumn)]
    return [part for part in found if part.isVisible()]


@pytest.fixture
def watched(qtbot, opened):
    qtbot.waitUntil(lambda: settled(opened.session) and opened.is_painted(), timeout=TIMEOUT_MS)
    qtbot.wait(50)
    cards = [part for part in parts_of(opened) if isinstance(part, Card)]
    assert len(cards) > 4
    return opened, Painted(cards)


CHANGES = {
    "unit": lambda window: window.session.unit.toggle(),
    "theme": lambda window: window.session.theme.set("dark"),
    "size": lambda window: window.resize(window.width() - 60, window.height() - 40),
}


@pytest.mark.parametrize("change", CHANGES)
def test_no_two_cards_in_one_turn(qtbot, watched, change):
    window, painted = watched
    painted.order.clear()
    CHANGES[change](window)
    qtbot.waitUntil(lambda: len({card for _turn, card in painted.order}) > 4, timeout=TIMEOUT_MS)
    qtbot.waitUntil(window.is_painted, timeout=TIMEOUT_MS)
    turns = {}
    for turn, card in painted.order:
        turns.setdefault(turn, set()).add(card)
    assert max(map(len, turns.values())) == 1


@pytest.mark.parametrize("change", CHANGES)
def test_everything_is_painted_in_the_end(qtbot, watched, change):
    window, _painted = watched
    CHANGES[change](window)
    CHANGES[change](window)  # in the middle of it, once more
    qtbot.waitUntil(window.is_painted, timeout=TIMEOUT_MS)
    assert all(part.updatesEnabled() for part in parts_of(window))
    assert window.centralWidget().updatesEnabled()


def test_a_part_that_goes_while_it_is_held_can_be_painted_when_it_comes_back(qtbot, watched):
    window, _painted = watched
    window.session.unit.toggle()
    held = parts_of(window)
    window.show_page("lab")
    qtbot.waitUntil(window.is_painted, timeout=TIMEOUT_MS)
    window.show_page("moment")
    qtbot.waitUntil(window.is_painted, timeout=TIMEOUT_MS)
    qtbot.waitUntil(lambda: all(part.updatesEnabled() for part in held), timeout=TIMEOUT_MS)

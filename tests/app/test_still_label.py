"""Words that change with every frame, and what they leave alone."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QEvent, QObject
from PySide6.QtWidgets import QApplication, QVBoxLayout, QWidget

from app.plots.still_label import ElidedStillLabel, StillLabel

# The off-screen platform says so of every window with a least size.
pytestmark = pytest.mark.qt_log_ignore("propagateSizeHints")


class LayoutCount(QObject):
    """How often a widget was asked to lay itself out anew."""

    def __init__(self, widget: QWidget) -> None:
        super().__init__(widget)
        self.count = 0
        widget.installEventFilter(self)

    def eventFilter(self, _watched: QObject, event: QEvent) -> bool:
        self.count += event.type() == QEvent.Type.LayoutRequest
        return False


@pytest.fixture
def placed(qtbot):
    """Makes a label that stands in a column, and counts the column's layouts."""

    def make(label: StillLabel) -> LayoutCount:
        around = QWidget()
        column = QVBoxLayout(around)
        column.addWidget(label)
        column.addStretch(1)
        around.resize(240, 300)
        qtbot.addWidget(around)
        around.show()
        QApplication.processEvents()
        label.around = around
        return LayoutCount(around)

    return make


def test_words_of_as_many_lines_lay_nothing_out(placed):
    label = StillLabel()
    layouts = placed(label)
    for number in range(20):
        label.setText(f"{number} µm")
        QApplication.processEvents()
    assert layouts.count == 0
    assert label.text() == "19 µm"
    assert label.accessibleName() == "19 µm"


def test_another_line_gets_its_room_and_is_told(qtbot, placed):
    label = StillLabel()
    layouts = placed(label)
    one = label.height()
    with qtbot.waitSignal(label.grown):
        label.setText("many words that do not go into a single line of this width " * 2)
    QApplication.processEvents()
    assert layouts.count > 0
    assert label.height() >= 2 * one
    wide = label.height()
    label.around.resize(900, 300)
    QApplication.processEvents()
    assert label.height() < wide


def test_room_may_be_kept_for_lines_to_come(placed):
    label = StillLabel(2)
    layouts = placed(label)
    label.setText("one")
    label.setText("one\ntwo")
    QApplication.processEvents()
    assert layouts.count == 0


def test_one_line_is_cut_where_there_is_no_room_and_told_on_hover(placed):
    label = ElidedStillLabel()
    layouts = placed(label)
    words = "rotation ccw, seen from the driver end, about its mean position"
    label.setText(words)
    label.grab()
    assert label.toolTip() == words
    label.setText("ccw")
    label.grab()
    assert label.toolTip() == ""
    QApplication.processEvents()
    assert layouts.count == 0

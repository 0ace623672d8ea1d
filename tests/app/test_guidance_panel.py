"""The guidance panel: every piece with its source, nothing filled in by itself."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel

from analysis.model.advice import Advice, Source
from analysis.model.units import LengthUnit
from app.widgets.guidance_panel import EMPTY, GuidancePanel
from app.widgets.outcomes import FINDINGS

# The off-screen platform says so of any window with a least size.
pytestmark = pytest.mark.qt_log_ignore("does not support propagateSizeHints")
SOURCE = Source("ISO 20816-3, operational limits", "from memory: confirm against your copy")
LEVEL = Advice("level", "Level", "suggestion", "Sentence one.", SOURCE, (77.5,), "µm p-p", 90.0)
BOUNDS = Advice("level", "Trip", "in_order", "Sentence two.", SOURCE, (150.0, 275.0), "µm p-p")
DELAY = Advice("delay", "Delay", "look", "Sentence three.", SOURCE, (1.0, 3.0), "s", 0.5)


@pytest.fixture
def panel(qtbot) -> GuidancePanel:
    made = GuidancePanel()
    qtbot.addWidget(made)
    made.resize(420, 300)
    with qtbot.waitExposed(made):
        made.show()
    return made


def test_empty_says_what_to_do(panel: GuidancePanel) -> None:
    assert panel.empty.text() == EMPTY
    assert panel.empty.isVisibleTo(panel)
    assert panel.rows() == []


def test_every_piece_stands_with_its_source(panel: GuidancePanel) -> None:
    panel.show_advice((LEVEL, BOUNDS, DELAY))
    assert not panel.empty.isVisibleTo(panel)
    for row, advice in zip(panel.rows(), (LEVEL, BOUNDS, DELAY), strict=True):
        texts = " ".join(label.text() for label in row.findChildren(QLabel))
        for part in (advice.title, advice.sentence, SOURCE.text, SOURCE.how_sure):
            assert part in texts
        shape, word, _ = FINDINGS[advice.finding]
        assert f"{shape} {word}" in texts
        assert word in row.accessibleName()
        assert SOURCE.how_sure in row.accessibleDescription()


def test_less_advice_leaves_no_row_behind(panel: GuidancePanel) -> None:
    panel.show_advice((LEVEL, BOUNDS, DELAY))
    panel.show_advice((DELAY,))
    assert [row.title.text() for row in panel.rows()] == ["Delay"]
    assert sum(row.isVisibleTo(panel) for row in panel.findChildren(type(panel.rows()[0]))) == 1


def test_a_value_is_tried_only_when_asked_for(qtbot, panel: GuidancePanel) -> None:
    asked = []
    panel.try_wanted.connect(asked.append)
    panel.show_advice((LEVEL, BOUNDS, DELAY))
    shown = [row.try_button.isVisibleTo(panel) for row in panel.rows()]
    assert shown == [True, False, False]
    button = panel.rows()[0].try_button
    assert button.text() == "Try 77.5 µm"
    assert asked == []
    button.setFocus()
    qtbot.keyClick(button, Qt.Key.Key_Space)
    assert asked == [LEVEL]


def test_the_unit_of_the_button(panel: GuidancePanel) -> None:
    panel.show_advice((LEVEL,))
    panel.set_unit(LengthUnit.MIL)
    assert panel.rows()[0].try_button.text() == "Try 3.05 mil"


def test_words_wrap_and_are_never_cut(qtbot, panel: GuidancePanel) -> None:
    long = Advice("x", "Title", "look", "a long sentence " * 30, SOURCE)
    panel.show_advice((long, long))
    panel.resize(300, 200)
    qtbot.waitUntil(lambda: panel.rows()[0].sentence.width() < 300)
    for row in panel.rows():
        assert row.sentence.height() >= row.sentence.heightForWidth(row.sentence.width())
    assert panel.area.horizontalScrollBar().maximum() == 0


def test_keys_scroll_it(qtbot, panel: GuidancePanel) -> None:
    panel.show_advice((LEVEL, BOUNDS, DELAY) * 4)
    bar = panel.area.verticalScrollBar()
    qtbot.waitUntil(lambda: bar.maximum() > 0)
    panel.area.setFocus()
    qtbot.keyClick(panel.area, Qt.Key.Key_PageDown)
    assert bar.value() > 0

"""The proof test panel: steps ticked off by keyboard, judged, found in a capture."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QComboBox, QLineEdit

from analysis.model.proof import StepResult
from analysis.protection.proof_test import PROOF_CAUTIONS, check_capture, proof_steps
from analysis.protection.proof_words import CLOSED, OPEN
from app.plots import style
from app.widgets.proof_step_form import ReadingField
from app.widgets.proof_test_panel import EMPTY, ProofTestPanel
from tests.analysis.proof_capture import ALARM, TRIP, captured, doings, setup_with

# The off-screen platform says so of any window with a least size.
pytestmark = pytest.mark.qt_log_ignore("does not support propagateSizeHints")
SETUP = setup_with(ALARM, TRIP)
STEPS = proof_steps(SETUP)


def place_of(kind: str, index: int | None) -> int:
    (found,) = [n for n, step in enumerate(STEPS) if step.kind == kind and step.index == index]
    return found


@pytest.fixture
def panel(qtbot) -> ProofTestPanel:
    made = ProofTestPanel()
    qtbot.addWidget(made)
    made.setStyleSheet(style.stylesheet(style.Theme.LIGHT))
    made.resize(620, 320)
    with qtbot.waitExposed(made):
        made.show()
    made.show_steps(STEPS)
    return made


def field(panel: ProofTestPanel, where: str) -> ReadingField:
    (found,) = [each for each in panel.form.fields if each.expected.where.startswith(where)]
    return found


def choose(field: ReadingField, text: str) -> None:
    assert isinstance(field.box, QComboBox)
    field.box.setCurrentIndex(field.box.findData(text))
    field.box.activated.emit(field.box.currentIndex())


def type_in(qtbot, field: ReadingField, text: str) -> None:
    assert isinstance(field.line, QLineEdit)
    field.line.setFocus()
    field.line.clear()
    qtbot.keyClicks(field.line, text)
    qtbot.keyClick(field.line, Qt.Key.Key_Return)


def result(panel: ProofTestPanel, place: int) -> StepResult:
    return panel.results()[place]


def test_no_steps(qtbot) -> None:
    empty = ProofTestPanel()
    qtbot.addWidget(empty)
    assert empty.form.do.text() == EMPTY
    assert not empty.check_button.isEnabled()
    assert not empty.record_button.isEnabled()
    assert empty.results() == ()


def test_every_step_is_listed_under_what_it_tries(panel: ProofTestPanel) -> None:
    rows = [panel.list.item(n) for n in range(panel.list.count())]
    steps = [item for item in rows if item.flags() & Qt.ItemFlag.ItemIsEnabled]
    heads = [item.text() for item in rows if item not in steps]
    assert len(steps) == len(STEPS)
    assert heads == list(dict.fromkeys(step.subject for step in STEPS if step.subject))
    for item, step in zip(steps, STEPS, strict=True):
        assert str(step.number) in item.text()
        assert step.title in item.text()
        assert "not done" in item.data(Qt.ItemDataRole.AccessibleTextRole)


def test_keys_go_from_step_to_step_over_the_headings(qtbot, panel: ProofTestPanel) -> None:
    panel.list.setFocus()
    seen = []
    for _ in STEPS:
        seen.append(panel.form.title.text())
        qtbot.keyClick(panel.list, Qt.Key.Key_Down)
    assert seen == [f"{step.number}  {step.full_title}" for step in STEPS]


def test_readings_decide(qtbot, panel: ProofTestPanel) -> None:
    place = place_of("beyond", 1)
    panel.go_to(place)
    choose(field(panel, "limit 2, trip"), "set")
    type_in(qtbot, field(panel, "limit 2, time"), "1,1 s")
    choose(field(panel, "relay ALARM"), CLOSED)
    choose(field(panel, "relay TRIP"), CLOSED)
    type_in(qtbot, field(panel, "loop DE-X p-p"), "14.5")
    assert result(panel, place).result == "not done", "one reading is still open"
    type_in(qtbot, field(panel, "loop DE-X gap"), "3.00 V")
    assert result(panel, place).result == "pass"
    assert result(panel, place).by_hand
    assert "relay TRIP" in result(panel, place).read
    assert "1 pass" in panel.summary.text()
    choose(field(panel, "relay TRIP"), OPEN)
    assert result(panel, place).result == "fail"
    assert field(panel, "relay TRIP").box.property("invalid") == "true"


def test_what_was_read_is_there_when_one_comes_back(qtbot, panel: ProofTestPanel) -> None:
    place = place_of("beyond", 0)
    panel.go_to(place)
    choose(field(panel, "relay ALARM"), OPEN)
    panel.form.remark.setText("bounces")
    panel.form.remark.editingFinished.emit()
    panel.form.next_button.click()
    assert panel.form.remark.text() == ""
    panel.go_to(place)
    assert field(panel, "relay ALARM").box.currentData() == OPEN
    assert panel.form.remark.text() == "bounces"
    assert result(panel, place).remark == "bounces"


def test_a_result_by_hand_comes_first(qtbot, panel: ProofTestPanel) -> None:
    panel.go_to(0)
    qtbot.mouseClick(panel.form.result.button("pass"), Qt.MouseButton.LeftButton)
    assert result(panel, 0).result == "pass"
    panel.show_results((StepResult(1, "fail", start_s=1.0, end_s=2.0),))
    assert result(panel, 0).result == "pass"


def test_found_in_a_capture(qtbot, panel: ProofTestPanel) -> None:
    wrong = setup_with(ALARM, TRIP | {"latching": False})
    found = check_capture(STEPS, captured(doings(SETUP), wrong))
    panel.show_results(found)
    for step, given, shown in zip(STEPS, found, panel.results(), strict=True):
        assert shown.result == given.result, step
        assert not shown.by_hand
    panel.go_to(place_of("back", 1))
    assert "no latch" in panel.form.found.text()
    moments = []
    panel.moment_wanted.connect(moments.append)
    panel.form.there_button.click()
    assert moments == [found[place_of("back", 1)].start_s]


def test_other_steps_keep_what_stays_the_same(panel: ProofTestPanel) -> None:
    place = place_of("beyond", 0)
    panel.go_to(place)
    choose(field(panel, "relay ALARM"), CLOSED)
    assert panel.touched()
    panel.show_steps(proof_steps(setup_with(ALARM, TRIP | {"above": 140.0})))
    kept = [entry for entry in panel.results() if entry.read]
    assert [entry.number for entry in kept] == [place + 1]
    panel.show_steps(proof_steps(setup_with(ALARM | {"above": 90.0}, TRIP)))
    assert not panel.touched()


def test_wishes(qtbot, panel: ProofTestPanel) -> None:
    scopes, checks, records = [], [], []
    panel.scope_wanted.connect(scopes.append)
    panel.check_wanted.connect(lambda: checks.append(1))
    panel.record_wanted.connect(lambda: records.append(1))
    qtbot.mouseClick(panel.scope.button("probe"), Qt.MouseButton.LeftButton)
    panel.check_button.click()
    panel.record_button.click()
    assert (scopes, checks, records) == (["probe"], [1], [1])


def test_cautions_are_in_sight(panel: ProofTestPanel) -> None:
    assert "authority" in panel.caution.text()
    assert panel.caution.isVisibleTo(panel)
    for caution in PROOF_CAUTIONS:
        assert caution in panel.caution.toolTip()


def test_names_and_tips(panel: ProofTestPanel) -> None:
    panel.go_to(place_of("beyond", 1))
    for each in panel.form.fields:
        inner = each.box or each.line
        assert inner.accessibleName().startswith("Read at ")
        assert each.expected.text in inner.toolTip()
    for button in (panel.check_button, panel.record_button, panel.form.next_button):
        assert button.toolTip()
    for theme in style.Theme:
        panel.set_theme(theme)


@pytest.mark.parametrize("width", [440, 620, 900])
def test_nothing_is_wider_than_its_room(qtbot, panel: ProofTestPanel, width: int) -> None:
    panel.resize(width, 300)
    for place in range(len(STEPS)):
        panel.go_to(place)
        qtbot.wait(1)
        assert panel.form.area.horizontalScrollBar().maximum() == 0
        assert panel.width() == width

"""The record of a proof test: asked for on the page, written in the background, beside no setup."""

from __future__ import annotations

from datetime import date

import pytest
from PySide6.QtCore import Qt

from analysis.files.record_file import read_record
from analysis.model.errors import InputError
from analysis.reporting.record import proof_record
from app.dialogs.record_dialog import RecordDialog
from app.reports.proof_record import ask_record, refuse_setups, write_record

from .made_capture import SETUP
from .test_window_alarms import TIMEOUT_MS, page, wait

__all__ = ["page"]

pytestmark = pytest.mark.qt_log_ignore("does not support propagateSizeHints")


@pytest.fixture
def proof(qtbot, page):
    """The proof test's panel in sight, with its steps."""
    page.lists.show_leaf("proof")
    page.lists.write()
    assert page.lists.proof.steps()
    return page.lists.proof


def test_the_steps_are_of_what_is_in_force_and_follow_the_scope(qtbot, opened, page, proof):
    own = proof.steps()
    opened.session.trial.change(0, above=60.0)
    wait(qtbot, opened)
    assert proof.steps() == own
    qtbot.mouseClick(proof.scope.button("all"), Qt.MouseButton.LeftButton)
    assert len(proof.steps()) > len(own)
    qtbot.mouseClick(proof.scope.button("limit"), Qt.MouseButton.LeftButton)
    opened.session.trial.choose(1)
    assert proof.steps() != own


def test_steps_are_looked_for_in_the_capture(qtbot, opened, proof):
    qtbot.mouseClick(proof.check_button, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(proof.touched, timeout=TIMEOUT_MS)
    assert not opened.session.notices.all


def test_the_record_says_who_and_with_what(qtbot, opened, proof, tmp_path):
    dialog = ask_record(opened, opened.session, proof.steps(), proof.results())
    dialog.number.setText("P-204/7")
    dialog.made_by.setText("A. Reader")
    dialog.ambient.setText("21,5")
    dialog.stages.setCurrentIndex(1)
    dialog.instruments[0].name.setText("Calibrator")
    dialog.instruments[0].calibrated.setText("2026-01-15")
    assert dialog.go_on.isEnabled()
    head = dialog.head()
    assert head.ambient_c == 21.5
    assert head.instruments[0].calibrated_on == date(2026, 1, 15)
    record = proof_record(
        opened.session.trial.in_force, proof.steps(), proof.results(), head, stage=dialog.stage()
    )
    dialog.reject()
    write_record(opened.session, record, tmp_path / "proved")
    qtbot.waitUntil((tmp_path / "proved.toml").exists, timeout=TIMEOUT_MS)
    wait(qtbot, opened)
    assert (tmp_path / "proved.pdf").read_bytes().startswith(b"%PDF")
    back = read_record(tmp_path / "proved.toml")
    assert (back.number, back.made_by, back.steps[0].stage) == ("P-204/7", "A. Reader", "as found")
    assert any("proved.pdf" in notice.title for notice in opened.session.notices.all)


def test_what_cannot_be_read_keeps_the_record_back(qtbot):
    dialog = RecordDialog("")
    qtbot.addWidget(dialog)
    dialog.ambient.setText("warm")
    assert not dialog.go_on.isEnabled()
    dialog.ambient.setText("")
    assert dialog.go_on.isEnabled()
    dialog.instruments[1].due.setText("15.1.2026")
    assert not dialog.go_on.isEnabled()
    assert dialog.instruments[1].due.property("invalid") == "true"
    assert dialog.head().instruments == ()


def test_no_record_takes_the_place_of_a_setup(tmp_path):
    capture = tmp_path / "run.h5"
    with pytest.raises(InputError, match="where the setup of run"):
        refuse_setups(tmp_path / "run.pdf", capture)
    with pytest.raises(InputError, match="name of a setup"):
        refuse_setups(tmp_path / "setup.pdf", None)
    other = tmp_path / "pump.toml"
    other.write_text(SETUP, encoding="utf-8")
    with pytest.raises(InputError, match="no record"):
        refuse_setups(tmp_path / "pump.pdf", capture)
    refuse_setups(tmp_path / "proof.pdf", capture)


def test_a_record_that_cannot_be_written_is_told(qtbot, opened, proof, tmp_path):
    before = tmp_path / "pump.toml"
    before.write_text(SETUP, encoding="utf-8")
    record = proof_record(
        opened.session.trial.in_force, proof.steps(), proof.results(), RecordDialog("").head()
    )
    write_record(opened.session, record, tmp_path / "pump.pdf")
    qtbot.waitUntil(
        lambda: any("could not be written" in n.title for n in opened.session.notices.all),
        timeout=TIMEOUT_MS,
    )
    assert before.read_text(encoding="utf-8") == SETUP


def test_the_button_opens_the_dialog(qtbot, opened, page, proof):
    qtbot.mouseClick(proof.record_button, Qt.MouseButton.LeftButton)
    (dialog,) = opened.findChildren(RecordDialog)
    assert dialog.isVisible()
    dialog.reject()


def test_the_proof_test_has_the_room_of_the_boundary(qtbot, page, proof):
    assert not page.boundary.isVisible()
    qtbot.mouseClick(page.lists.room, Qt.MouseButton.LeftButton)
    assert page.boundary.isVisible()
    qtbot.mouseClick(page.lists.room, Qt.MouseButton.LeftButton)
    page.lists.show_leaf("events")
    assert page.boundary.isVisible()


def test_a_suggestion_is_tried_and_not_taken(qtbot, opened, page):
    from analysis.model.advice import Advice, Source

    source = Source("x", "y")
    advice = Advice("level", "Level", "suggestion", "…", source, (88.0,), "µm p-p")
    page.lists.guidance.try_wanted.emit(advice)
    assert opened.session.trial.limits[0].above == 88.0
    assert opened.session.trial.in_force.limit[0].above == 95.0
    page.lists.guidance.try_wanted.emit(
        Advice("delay", "Delay", "suggestion", "…", source, (3.0,), "s")
    )
    assert opened.session.trial.limits[0].delay_s == 3.0

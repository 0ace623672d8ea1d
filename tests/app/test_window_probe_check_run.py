"""The Probe check page in the window: calibrator run, and the records of its checks."""

from __future__ import annotations

from pathlib import Path

import pytest

from app.pages.probe_check_page import ProbeCheckPage
from app.reports.probe_check_record import (
    ask_check_record,
    open_check,
    read_check,
    record_in_sight,
)
from app.reports.proof_record import write_record

from .conftest import settled
from .probe_check import FOUND, LEFT, RUN, TIMEOUT_MS, give, paste, wait

pytestmark = pytest.mark.qt_log_ignore("does not support propagateSizeHints")


@pytest.fixture
def page(qtbot, window) -> ProbeCheckPage:
    """The page in sight, with no capture."""
    window.show_page("check")
    made = window.pages["check"]
    wait(qtbot, made)
    return made


@pytest.fixture
def on_run(qtbot, window) -> ProbeCheckPage:
    """The calibrator's capture with its steps found."""
    session = window.session
    session.open(RUN)
    qtbot.waitUntil(lambda: session.timeline.complete, timeout=TIMEOUT_MS)
    window.show_page("check")
    made = window.pages["check"]
    made.head.checks.chosen.emit("run")
    qtbot.waitUntil(lambda: session.checks.phase == "ready", timeout=TIMEOUT_MS)
    wait(qtbot, made)
    return made


def test_the_page_opens_on_the_check_that_fits_the_capture(qtbot, window, capture_path):
    """A probe on a calibrator has a run; a machine's capture has none."""
    session = window.session
    session.open(RUN)
    qtbot.waitUntil(lambda: session.timeline.complete, timeout=TIMEOUT_MS)
    window.show_page("check")
    page = window.pages["check"]
    qtbot.waitUntil(lambda: session.checks.phase == "ready", timeout=TIMEOUT_MS)
    wait(qtbot, page)
    assert session.check.check == "run"
    assert page.leaf().isVisible()
    assert not page.leaf().steps.is_empty()
    # Who has turned to another check stays there, until another capture comes.
    page.head.checks.chosen.emit("loop")
    session.unit.toggle()
    assert session.check.check == "loop"
    page.head.checks.chosen.emit("run")
    session.open(capture_path)
    qtbot.waitUntil(lambda: session.check.check == "table", timeout=TIMEOUT_MS)


def test_the_probe_looked_at_is_the_one_to_check_until_something_is_typed(
    qtbot, window, capture_path
):
    session = window.session
    session.open(capture_path)
    qtbot.waitUntil(lambda: session.timeline.complete, timeout=TIMEOUT_MS)
    first, second, third = (probe.name for probe in session.capture.setup.probe[:3])
    assert session.check.probe == first
    session.choose_probe(second)
    assert session.check.probe == second
    session.check.set_cell(0, "gap_um", 250.0)
    session.choose_probe(third)
    assert session.check.probe == second


APPLIED = [(gap, None) for gap in range(250, 2251, 250)]
APPLIED += [(1250, level) for level in (25, 50, 75, 100, 125)] + [(1750, 50)]
LIST = "\n".join(f"{gap}\t{level or ''}" for gap, level in APPLIED)


class TestRun:
    def test_steps_are_found_and_a_list_finds_its_places(self, qtbot, on_run):
        session, panel = on_run._session, on_run.leaf().run
        assert len(session.checks.stretches) == 16
        assert on_run.head.finding().result == ""
        paste(panel.sheet, LIST)
        wait(qtbot, on_run)
        run = session.checks.result.run
        # The recipe of the sample: nine gaps, back to the middle, five vibrations, one more.
        assert sorted(session.check.run.applied) == [*range(9), *range(10, 16)]
        assert session.check.run.missing == ()
        vibrations = [step.vibration for step in run.steps[10:]]
        assert all(reading.result == "pass" for reading in vibrations)
        assert [r.expected_ma for r in vibrations[:2]] == pytest.approx([6.0, 8.0])
        assert run.steps[8].position.result == "fail"  # 2250 µm lies beyond the straight line
        assert run.verdict == "fail"
        assert "Step 9" in on_run.head.finding().details[0]

    def test_a_value_is_typed_beside_its_step(self, qtbot, on_run):
        panel = on_run.leaf().run
        panel.sheet.typed.emit(4, 1, "1250")
        panel.sheet.typed.emit(4, 6, "12,05")
        wait(qtbot, on_run)
        reading = on_run._session.checks.result.run.steps[4].position
        assert reading.expected_ma == pytest.approx(12.0)
        assert reading.current_error_percent == pytest.approx(100.0 * 0.05 / 16.0)
        assert reading.result == "pass"
        panel.position.changed.emit(0.2)
        wait(qtbot, on_run)
        assert on_run._session.checks.result.run.verdict == "fail"
        panel.sheet.typed.emit(4, 1, "abc")
        assert "abc" in panel.message.text()
        assert on_run._session.check.run.applied[4].gap_um == 1250.0

    def test_the_position_steps_become_a_table(self, qtbot, on_run):
        panel = on_run.leaf().run
        paste(panel.sheet, LIST)
        wait(qtbot, on_run)
        panel.take_table("as left")
        wait(qtbot, on_run)
        assert on_run._session.check.check == "table"
        figures = on_run._session.checks.result.left.figures
        assert len(figures.table.rows) == 9
        # The capture was made from this very curve.
        assert figures.table.rows[4] == pytest.approx((1250.0, -9.83), abs=0.005)

    def test_another_capture_takes_the_applied_values_with_it(self, qtbot, on_run, capture_path):
        on_run.leaf().run.sheet.typed.emit(0, 1, "250")
        session = on_run._session
        session.open(capture_path)
        qtbot.waitUntil(lambda: session.check.run.applied == {}, timeout=TIMEOUT_MS)
        qtbot.waitUntil(lambda: session.timeline.complete and settled(session), timeout=TIMEOUT_MS)


class TestRecord:
    def write(self, qtbot, page, path: Path) -> None:
        session = page._session
        dialog = ask_check_record(page, session)
        dialog.made_by.setText("A. Example")
        dialog.ambient.setText("21,5")
        dialog.driver_serial.setText("D-17")
        dialog.instruments[0].name.setText("Micrometer")
        dialog.instruments[0].calibrated.setText("2026-03-04")
        head = dialog.head()
        dialog.reject()
        write_record(session, record_in_sight(session, head), path)
        qtbot.waitUntil(lambda: path.with_suffix(".toml").exists(), timeout=TIMEOUT_MS)
        qtbot.waitUntil(lambda: settled(session), timeout=TIMEOUT_MS)
        assert path.read_bytes().startswith(b"%PDF")

    def test_nothing_typed_is_nothing_to_record(self, page):
        assert ask_check_record(page, page._session) is None
        assert "nothing to record" in page._session.notices.all[0].title

    def test_a_calibration_is_recorded_and_opened_again(self, qtbot, page, tmp_path):
        session = page._session
        session.check.set_facts(probe="DE-X", material="aluminium")
        give(qtbot, page, FOUND, "as found")
        give(qtbot, page, LEFT, "as left")
        rows = session.check.rows
        path = tmp_path / "cal.pdf"
        self.write(qtbot, page, path)
        session.check.set_rows(())
        session.check.set_facts(probe="", material="AISI 4140")
        open_check(session, path)  # by its PDF: the TOML is beside it
        qtbot.waitUntil(lambda: session.check.rows == rows, timeout=TIMEOUT_MS)
        wait(qtbot, page)
        assert (session.check.probe, session.check.material) == ("DE-X", "aluminium")
        assert session.check.head.instruments[0].name == "Micrometer"
        assert page.head.finding().result == "pass"
        dialog = ask_check_record(page, session)
        assert dialog.driver_serial.text() == "D-17"
        assert dialog.ambient.text() == "21.5"
        dialog.reject()

    def test_a_run_is_recorded_and_opened_again(self, qtbot, on_run, tmp_path):
        session = on_run._session
        paste(on_run.leaf().run.sheet, LIST)
        wait(qtbot, on_run)
        applied = dict(session.check.run.applied)
        path = tmp_path / "run.pdf"
        self.write(qtbot, on_run, path)
        assert read_check(path.with_suffix(".toml")).head.source == "calibrator.h5"
        session.check.forget_run()
        open_check(session, path.with_suffix(".toml"))
        qtbot.waitUntil(lambda: session.check.run.applied == applied, timeout=TIMEOUT_MS)
        qtbot.waitUntil(lambda: settled(session), timeout=TIMEOUT_MS)

    def test_a_file_that_is_no_record_is_told(self, qtbot, page, tmp_path):
        path = tmp_path / "other.toml"
        path.write_text("version = 1\n", encoding="utf-8")
        open_check(page._session, path)
        qtbot.waitUntil(lambda: bool(page._session.notices.all), timeout=TIMEOUT_MS)
        assert "other.toml" in page._session.notices.all[0].title

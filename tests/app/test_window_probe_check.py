"""The Probe check page in the window: typed, pasted, opened, used for a probe."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QFileDialog

from analysis.files.setup_read import read_setup
from analysis.model.units import LengthUnit
from app.dialogs.write_curve import ask_to_write_curve
from app.pages.probe_check_page import ProbeCheckPage
from app.reports.probe_check_record import nothing_to_record

from .conftest import settled
from .probe_check import FOUND, LEFT, SAMPLES, TIMEOUT_MS, give, paste, texts, wait

pytestmark = pytest.mark.qt_log_ignore("does not support propagateSizeHints")


@pytest.fixture
def page(qtbot, window) -> ProbeCheckPage:
    """The page in sight, with no capture."""
    window.show_page("check")
    made = window.pages["check"]
    wait(qtbot, made)
    return made


@pytest.fixture
def table(page):
    return page.leaf().table


class TestWithoutACapture:
    def test_the_page_stands_and_says_what_to_do(self, page):
        assert page.isVisible()
        assert "CSV" in page.head.headline.full_text()
        assert all(plot.is_empty() for plot in page.plots())
        assert "Open a capture" in page.leaf().effect.empty.text()

    def test_a_table_is_typed_by_keyboard(self, qtbot, page, table):
        sheet = table.sheet
        sheet.setFocus()
        for column, values in ((0, ("250", "500", "750")), (1, ("-2,0", "-3.97", "-5.94"))):
            sheet.go_to(0, column)
            for value in values:
                QTest.keyClicks(sheet, value[0])
                editor = QApplication.focusWidget()
                QTest.keyClicks(editor, value[1:])
                QTest.keyClick(editor, Qt.Key.Key_Return)
                QApplication.processEvents()
        wait(qtbot, page)
        rows = page._session.check.rows
        assert [(row.gap_um, row.found_v) for row in rows] == [
            (250.0, -2.0),
            (500.0, -3.97),
            (750.0, -5.94),
        ]
        assert page._session.checks.result.found.figures is not None
        assert not page.leaf().curve.is_empty()
        assert texts(sheet, 2)[0].startswith("+0.1")

    def test_a_slip_of_the_pen_is_told_with_its_row(self, qtbot, page, table):
        give(qtbot, page, LEFT, "as found")
        table.sheet.typed.emit(4, 1, "-9.83x")
        wait(qtbot, page)
        assert "row 5" in page.head.finding().details[0].lower()
        assert table.sheet.cells.cell(4, 1).text == "-9.83x"
        assert nothing_to_record(page._session)
        table.sheet.typed.emit(4, 1, "-9.83")
        wait(qtbot, page)
        assert page.head.finding().result in ("pass", "fail")

    def test_delete_empties_a_cell(self, qtbot, page, table):
        give(qtbot, page, LEFT, "as found")
        count = len(page._session.check.rows)
        table.sheet.go_to(count - 1, 1)
        table.sheet.setFocus()
        QTest.keyClick(table.sheet, Qt.Key.Key_Delete)
        assert page._session.check.rows[count - 1].found_v is None

    def test_a_spreadsheet_is_pasted(self, qtbot, page, table):
        paste(table.sheet, "gap_mil\tvolts\n" + MIL)
        wait(qtbot, page)
        assert page._session.check.rows[0].gap_um == pytest.approx(254.0)
        assert len(page._session.check.rows) == 9
        assert page._session.checks.result.found.figures.verdict == "pass"

    def test_one_column_goes_down_from_the_cell(self, qtbot, page, table):
        give(qtbot, page, FOUND, "as found")
        paste(table.sheet, "-2,02\n-3,94\n-5,89\n-7,86", row=0, column=3)
        wait(qtbot, page)
        assert [row.left_v for row in page._session.check.rows][:5] == [
            -2.02,
            -3.94,
            -5.89,
            -7.86,
            None,
        ]
        assert page._session.checks.result.left.figures is not None

    def test_what_cannot_be_pasted_changes_nothing_and_is_told(self, qtbot, page, table):
        give(qtbot, page, FOUND, "as found")
        before = page._session.check.rows
        paste(table.sheet, "gap_um\tvolts\n250\t-2\n500\t-1\n750\t-6")
        assert page._session.check.rows == before
        assert "Nothing was pasted" in table.message.text()

    def test_as_found_and_as_left_stand_side_by_side(self, qtbot, page, table):
        give(qtbot, page, FOUND, "as found")
        assert page.head.finding().result == "fail"
        give(qtbot, page, LEFT, "as left")
        finding = page.head.finding()
        assert finding.result == "pass"
        assert "As found it failed" in finding.headline
        rows = {row.gap_um: row for row in page._session.check.rows}
        assert (rows[1250.0].found_v, rows[1250.0].left_v) == (-10.24, -9.83)
        assert (rows[2300.0].found_v, rows[2500.0].left_v) == (None, None)
        table.clear.click()
        wait(qtbot, page)
        assert page.head.finding().result == "fail"

    def test_tolerances_are_the_readers_own_and_say_so(self, qtbot, page, table):
        give(qtbot, page, LEFT, "as found")
        assert "from memory" in table.tolerances.edition.text()
        table.tolerances.increment.changed.emit(2.0)
        wait(qtbot, page)
        assert page.head.finding().result == "fail"
        assert table.tolerances.edition.text().startswith("figures of one's own")
        table.tolerances.presets.chosen.emit(table.tolerances.presets.values()[1])
        wait(qtbot, page)
        assert page._session.checks.result.left.figures is None
        assert page.head.finding().result == "pass"

    def test_mil_changes_what_is_shown_and_no_gap(self, qtbot, page, table):
        give(qtbot, page, LEFT, "as found")
        before = page._session.check.rows
        page._session.unit.set(LengthUnit.MIL)
        wait(qtbot, page)
        assert texts(table.sheet, 0)[0] == "9.843"
        assert page._session.check.rows == before
        assert page.head.finding().result == "pass"
        table.sheet.typed.emit(0, 0, "10")
        assert page._session.check.rows[0].gap_um == pytest.approx(254.0)

    def test_another_material_brings_its_caution(self, page):
        assert "one target material" in page.head.caution.full_text()
        page.head.material.setEditText("aluminium")
        assert page._session.check.material == "aluminium"
        assert "AISI 4140" in page.head.caution.full_text()

    def test_a_picture_and_the_sheet_point_at_the_same_row(self, qtbot, page, table):
        give(qtbot, page, LEFT, "as found")
        page.leaf().curve.point_requested.emit(1260.0)
        assert table.sheet.currentIndex().row() == 4
        assert page.leaf().increments._point == 1250.0

    def test_a_file_that_is_no_table_is_told(self, qtbot, page, table):
        table.open_file(SAMPLES / "few_turns.csv")
        notices = page._session.notices
        qtbot.waitUntil(lambda: bool(notices.all), timeout=TIMEOUT_MS)
        assert "few_turns.csv" in notices.all[0].title
        assert page._session.check.rows == ()

    def test_the_loop_is_checked(self, qtbot, page):
        page.head.checks.chosen.emit("loop")
        qtbot.waitUntil(page.is_drawn)
        panel = page.leaf().loop
        for row, value in enumerate(("4.01", "8.02", "12", "15.9", "20")):
            panel.sheet.typed.emit(row, 4, value)
        wait(qtbot, page)
        assert texts(panel.sheet, 5)[3] == "✗ −0.62"
        assert page.head.finding().result == "fail"
        panel.tolerance.changed.emit(1.0)
        wait(qtbot, page)
        assert page.head.finding().result == "pass"
        assert not page.leaf().errors.is_empty()

    def test_meter_in_volts(self, qtbot, page):
        page.head.checks.chosen.emit("loop")
        qtbot.waitUntil(page.is_drawn)
        panel = page.leaf().loop
        panel.meter.chosen.emit(True)
        paste(panel.sheet, "1\n2\n3\n4\n5", row=0, column=6)
        wait(qtbot, page)
        assert page._session.checks.result.loop["as left"].verdict == "pass"


MIL = "\n".join(f"{gap}\t{-0.2 * gap:.2f}".replace(".", ",") for gap in range(10, 100, 10))


@pytest.fixture
def on_capture(qtbot, opened) -> ProbeCheckPage:
    """The page with the made capture and a table as found of its first probe."""
    opened.show_page("check")
    made = opened.pages["check"]
    wait(qtbot, made)
    give(qtbot, made, FOUND, "as found")
    qtbot.waitUntil(lambda: opened.session.checks.effect is not None, timeout=TIMEOUT_MS)
    return made


class TestEffect:
    def gap(self, session) -> float:
        return session.reader.result.readings.probes["DE-X"].gap_um.value

    def test_it_is_shown_before_the_curve_is_taken_and_comes_true(self, qtbot, on_capture):
        session, panel = on_capture._session, on_capture.leaf().effect
        before = self.gap(session)
        told = next(row for row in session.checks.effect.rows if row.what == "gap")
        assert told.now == pytest.approx(before)
        assert abs(told.change) > 1.0
        assert self.gap(session) == before  # nothing is taken yet
        panel.use.click()
        qtbot.waitUntil(lambda: session.reader.result is not None and settled(session))
        assert self.gap(session) == pytest.approx(told.then)
        assert session.curves.names == ("DE-X",)
        assert any("DE-X" in notice.title for notice in session.notices.all)

    def test_after_it_is_taken_the_effect_is_still_against_the_setup(self, qtbot, on_capture):
        session, panel = on_capture._session, on_capture.leaf().effect
        told = next(row for row in session.checks.effect.rows if row.what == "gap")
        panel.use.click()
        qtbot.waitUntil(lambda: session.checks.effect is None or settled(session))
        qtbot.waitUntil(
            lambda: settled(session) and session.checks.effect is not None, timeout=TIMEOUT_MS
        )
        again = next(row for row in session.checks.effect.rows if row.what == "gap")
        assert (again.now, again.then) == pytest.approx((told.now, told.then))
        assert not panel.use.isVisible()

    def test_it_is_dropped_again(self, qtbot, on_capture):
        session, panel = on_capture._session, on_capture.leaf().effect
        before, setup = self.gap(session), session.capture.setup
        panel.use.click()
        qtbot.waitUntil(lambda: session.reader.result is not None and settled(session))
        panel.back.click()
        qtbot.waitUntil(lambda: session.reader.result is not None and settled(session))
        assert session.capture.setup == setup
        assert self.gap(session) == before
        assert session.notices.all == ()

    def test_another_setup_takes_the_trial_with_it(self, qtbot, on_capture, capture_path):
        session = on_capture._session
        on_capture.leaf().effect.use.click()
        session.open(capture_path)
        qtbot.waitUntil(lambda: session.curves.names == (), timeout=TIMEOUT_MS)
        assert session.capture.setup.probe_named("DE-X").calibration is None
        qtbot.waitUntil(lambda: session.timeline.complete and settled(session), timeout=TIMEOUT_MS)

    def test_it_is_that_of_the_table_looked_at(self, qtbot, on_capture):
        session = on_capture._session
        give(qtbot, on_capture, LEFT, "as left")

        def curve() -> tuple:
            effect = session.checks.effect
            return () if effect is None else effect.setup.probe_named("DE-X").calibration

        qtbot.waitUntil(lambda: (250.0, -2.02) in curve(), timeout=TIMEOUT_MS)
        on_capture.leaf().table.stages.chosen.emit("as found")
        qtbot.waitUntil(lambda: (250.0, -1.8) in curve(), timeout=TIMEOUT_MS)
        assert on_capture.head.finding().result == "pass"  # as left still counts
        qtbot.waitUntil(lambda: settled(session), timeout=TIMEOUT_MS)

    def test_an_unknown_probe_has_no_effect(self, qtbot, on_capture):
        on_capture.head.probe.setEditText("P-99")
        wait(qtbot, on_capture)
        assert on_capture._session.checks.effect is None
        assert "Choose a probe" in on_capture.leaf().effect.empty.text()

    def test_it_is_written_only_with_consent(self, qtbot, on_capture, tmp_path, monkeypatch):
        session = on_capture._session
        assert ask_to_write_curve(on_capture, session) is None
        on_capture.leaf().effect.use.click()
        target = tmp_path / "curve.toml"
        monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(target), ""))
        dialog = ask_to_write_curve(on_capture, session)
        assert not dialog.go_on.isEnabled()
        dialog.consent.setChecked(True)
        dialog.go_on.click()
        qtbot.waitUntil(target.exists, timeout=TIMEOUT_MS)
        qtbot.waitUntil(lambda: settled(session), timeout=TIMEOUT_MS)
        setup, _ = read_setup(target)
        assert len(setup.probe_named("DE-X").calibration) == 10
        assert setup.limit == session.capture.setup.limit

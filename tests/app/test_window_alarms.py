"""The Alarms page in the window, with the real logic and real mouse and keys."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QWidget

from analysis.files.setup_read import read_setup
from analysis.model.span import TimeSpan
from analysis.model.units import LengthUnit
from app.dialogs.write_limits import WHAT, ask_to_write, change_lines
from app.dialogs.write_setup import CONSENT, write_setup_to
from app.pages import alarms_page
from app.plots import style

from .conftest import settled
from .made_capture import SETUP, SWELL_AT_S

TIMEOUT_MS = 20_000
SAMPLE = Path(__file__).parents[2] / "sample_data" / "run_up.h5"
LEFT = Qt.MouseButton.LeftButton
ALARM, TRIP = 0, 1

pytestmark = pytest.mark.qt_log_ignore("does not support propagateSizeHints")


def wait(qtbot, window) -> None:
    session = window.session
    qtbot.waitUntil(
        lambda: settled(session) and session.alarms.calm.is_settled(), timeout=TIMEOUT_MS
    )


@pytest.fixture
def page(qtbot, opened) -> alarms_page.AlarmsPage:
    """The page in sight, with everything answered and drawn."""
    opened.show_page("alarms")
    session = opened.session
    qtbot.waitUntil(
        lambda: session.alarms.result is not None and session.alarms.result.boundary is not None,
        timeout=TIMEOUT_MS,
    )
    wait(qtbot, opened)
    qtbot.waitUntil(opened.is_painted)
    return opened.pages["alarms"]


def at(plot, x: float, y: float) -> QPoint:
    return plot.canvas.to_pixels(x, y).toPoint()


def drag(plot, start: QPoint, end: QPoint) -> None:
    viewport = plot.canvas.viewport()
    QTest.mousePress(viewport, LEFT, Qt.KeyboardModifier.NoModifier, start)
    for share in (0.25, 0.5, 0.75, 1.0):
        QTest.mouseMove(viewport, start + share * (end - start))
        QApplication.processEvents()
    QTest.mouseRelease(viewport, LEFT, Qt.KeyboardModifier.NoModifier, end)


def test_the_story_of_the_sample(qtbot, window):
    """Issue 4: with a delay of two seconds the trip would not have come, with one it would."""
    session = window.session
    session.open(SAMPLE)
    qtbot.waitUntil(lambda: session.timeline.complete, timeout=TIMEOUT_MS)
    qtbot.mouseClick(window.header.pages.button("alarms"), LEFT)
    page = window.pages["alarms"]
    qtbot.waitUntil(lambda: session.alarms.result is not None, timeout=TIMEOUT_MS)
    wait(qtbot, window)
    assert session.trial.limits[session.trial.chosen].level == "trip"
    told = [row.what for row in page.lists.events.events.rows]
    assert "trip set, latched" in told
    assert page.editor.delay.text() == "1 s"
    page.editor.delay.setFocus()
    page.editor.delay.selectAll()
    qtbot.keyClicks(page.editor.delay, "2")
    qtbot.keyClick(page.editor.delay, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: session.alarms.result.trial is not None, timeout=TIMEOUT_MS)
    wait(qtbot, window)
    assert page.lists.leaf == "changes"
    (line,) = page.lists.changes.texts()
    assert "trip of DE-X at 39.9 s would not have come" in line
    assert "would not have come" in page.editor.outcome.full_text()
    qtbot.mouseClick(page.editor.back, LEFT)
    wait(qtbot, window)
    assert session.trial.setup is None
    assert page.lists.leaf == "events"
    assert page.editor.outcome.full_text() == ""


def test_nothing_is_asked_while_another_page_is_in_sight(qtbot, opened):
    assert opened.session.alarms.series is None
    opened.show_page("alarms")
    qtbot.waitUntil(lambda: opened.session.alarms.result is not None, timeout=TIMEOUT_MS)
    wait(qtbot, opened)
    opened.show_page("moment")
    assert not opened.session.alarms.wanted
    result = opened.session.alarms.result
    opened.session.trial.change(ALARM, above=60.0)
    wait(qtbot, opened)
    assert opened.session.alarms.result is result
    opened.show_page("alarms")
    qtbot.waitUntil(lambda: opened.session.alarms.result.trial is not None, timeout=TIMEOUT_MS)


def test_a_dragged_line_is_followed_by_everything(qtbot, opened, page):
    session = opened.session
    start, end = at(page.level, 1.0, 95.0), at(page.level, 1.0, 60.0)
    drag(page.level, start, end)
    tried = session.trial.limits[ALARM].above
    assert tried == pytest.approx(60.0, abs=1.5)
    wait(qtbot, opened)
    assert page.level._view.trial.limit[ALARM].above == tried
    assert page.boundary._view.trial.above == tried
    assert page.states._view.trial.setup.limit[ALARM].above == tried
    assert page.editor.above.number() == pytest.approx(tried)
    assert page.editor.above.property("tried") == "true"
    assert page.editor.in_force.full_text().startswith("In force: 95 µm p-p")
    assert page.lists.changes.texts()


def test_the_line_follows_the_hand_before_the_answer_comes(page, opened):
    opened.session.trial.change(ALARM, above=70.0)
    assert page.level._view.trial.limit[ALARM].above == 70.0


def test_the_mark_of_the_boundary_changes_level_and_delay(qtbot, opened, page):
    page.boundary.setting_requested.emit(ALARM, "above", 88.0, 0.5)
    limit = opened.session.trial.limits[ALARM]
    assert (limit.above, limit.delay_s) == (88.0, 0.5)
    wait(qtbot, opened)
    assert page.editor.delay.text() == "0.5 s"


def test_a_reset_is_put_at_the_moment_and_taken_off_again(qtbot, opened, page):
    session = opened.session
    session.moment.set(5.0)
    opened.timeline.plot.setFocus()
    qtbot.keyClick(opened.timeline.plot, Qt.Key.Key_R)
    assert session.resets.times_s == (5.0,)
    assert page.reset_tools.here.text() == "Take this reset off"
    wait(qtbot, opened)
    assert session.alarms.result.in_force.resets_s == (5.0,)
    qtbot.mouseClick(page.reset_tools.here, LEFT)
    assert session.resets.times_s == ()
    page.states.reset_requested.emit(2.0)
    page.states.reset_requested.emit(3.0)
    page.states.reset_removed.emit(2.0)
    assert session.resets.times_s == (3.0,)
    qtbot.mouseClick(page.reset_tools.clear, LEFT)
    assert session.resets.times_s == ()
    assert not page.reset_tools.clear.isVisible()


def test_r_does_nothing_where_no_resets_are_seen(qtbot, opened):
    qtbot.keyClick(opened.timeline.plot, Qt.Key.Key_R)
    assert opened.session.resets.times_s == ()


def test_a_click_on_an_event_moves_the_moment_for_every_view(qtbot, opened, page):
    row = page.lists.events.events.rows[0]
    middle = page.lists.events.visualRect(page.lists.events.events.index(0, 2)).center()
    qtbot.mouseClick(page.lists.events.viewport(), LEFT, pos=middle)
    assert opened.session.moment.moment_s == row.event.time_s
    assert page.level._moment[0] == row.event.time_s
    assert page.states._moment[0] == row.event.time_s
    assert opened.session.moment.moment_s == pytest.approx(SWELL_AT_S, abs=0.5)


def test_keys_in_the_fields_change_no_moment(qtbot, opened, page):
    before = opened.session.moment.moment_s
    page.editor.delay.setFocus()
    for key in (Qt.Key.Key_Up, Qt.Key.Key_PageUp, Qt.Key.Key_Home, Qt.Key.Key_Left):
        qtbot.keyClick(page.editor.delay, key)
    assert opened.session.moment.moment_s == before
    assert opened.session.trial.limits[ALARM].delay_s > 0.0


def test_another_limit_is_chosen_from_the_menu_or_a_picture(qtbot, opened, page):
    page.editor.limits.chosen.emit(TRIP)
    assert "trip" in page.editor.limits.text()
    assert page.editor.above.text() == "140 µm"
    wait(qtbot, opened)
    assert page.boundary._view.boundary.index == TRIP
    page.states.limit_requested.emit(ALARM)
    assert page.editor.above.text() == "95 µm"


def test_the_menu_says_which_limits_are_on_trial(qtbot, opened, page):
    opened.session.trial.change(TRIP, above=150.0)
    texts = [action.text() for action in page.editor.limits.menu().actions()]
    assert [text.endswith("on trial") for text in texts] == [False, True]
    opened.session.trial.back()
    texts = [action.text() for action in page.editor.limits.menu().actions()]
    assert not any(text.endswith("on trial") for text in texts)


def test_a_region_of_1x_has_fields_of_its_own(qtbot, opened, page, tmp_path):
    path = tmp_path / "region.toml"
    region = "region = { amplitude_um = [20, 90], lag_deg = [10, 60] }"
    own = f'[[limit]]\nprobes = ["DE-X"]\nmeasure = "1x_vector"\nlevel = "trip"\n{region}\n'
    path.write_text(SETUP.partition("[[limit]]")[0] + own, encoding="utf-8")
    opened.session.open(path)
    qtbot.waitUntil(lambda: len(opened.session.trial.limits) == 1, timeout=TIMEOUT_MS)
    wait(qtbot, opened)
    low, high, start, end = page.editor.region
    assert not page.editor.above.isVisible()
    assert [each.text() for each in page.editor.region] == ["20 µm", "90 µm", "10°", "60°"]
    high.setValue(70.0)
    end.setValue(20.0)
    tried = opened.session.trial.limits[0].region
    assert (tried.amplitude_um, tried.lag_deg) == ((20.0, 70.0), (10.0, 20.0))
    low.setValue(75.0)
    assert opened.session.trial.limits[0].region == tried
    assert low.text() == "20 µm"
    wait(qtbot, opened)
    assert [e.event for e in opened.session.alarms.result.trial.events][:1] == ["set"]
    assert start.property("tried") == "false"


def test_what_cannot_be_is_not_taken_and_the_field_says_what_stands(qtbot, opened, page):
    page.editor.above.setFocus()
    page.editor.above.selectAll()
    qtbot.keyClicks(page.editor.above, "none")
    qtbot.keyClick(page.editor.above, Qt.Key.Key_Return)
    assert opened.session.trial.setup is None
    assert page.editor.above.text() == "95 µm"


def test_mil_everywhere(qtbot, opened, page):
    qtbot.keyClick(opened, Qt.Key.Key_U, Qt.KeyboardModifier.ControlModifier)
    assert page.editor.above.text() == "3.74 mil"
    assert page.editor.in_force.full_text().startswith("In force: 3.74 mil p-p")
    assert "mil" in page.lists.events.events.text(0, 3)
    events = opened.session.alarms
    qtbot.waitUntil(lambda: "3.74 mil or more" in events.result.in_force.events[0].why)
    assert not any("µm" in event.why for event in events.result.in_force.events)
    assert opened.session.trial.setup is None
    page.editor.above.setFocus()
    page.editor.above.selectAll()
    qtbot.keyClicks(page.editor.above, "4")
    qtbot.keyClick(page.editor.above, Qt.Key.Key_Return)
    assert opened.session.trial.limits[ALARM].above == pytest.approx(101.6)


def test_units_to_and_fro_try_nothing(qtbot, opened, page):
    opened.session.trial.change(ALARM, above=860.37, hysteresis_um=1.26)
    before = opened.session.trial.limits
    for _ in range(4):
        opened.session.unit.toggle()
        opened.session.trial.choose(TRIP)
        opened.session.trial.choose(ALARM)
    assert opened.session.trial.limits == before


def test_the_zoom_and_the_span_of_the_timeline_are_shared(qtbot, opened, page):
    opened.session.zoom.show(TimeSpan(2.0, 5.0))
    assert page.level.time_range() == opened.session.zoom.seen
    assert page.states.time_range() == opened.session.zoom.seen
    page.level.span_requested.emit(3.0, 4.0)
    assert opened.session.span.span == TimeSpan(3.0, 4.0)
    assert page.states._span == TimeSpan(3.0, 4.0)


def test_contacts_follow_the_moment(qtbot, opened, page):
    page.lists.show_leaf("contacts")
    opened.session.moment.set(SWELL_AT_S)
    assert page.lists.contacts.texts()[0][3].startswith("closed")
    opened.session.moment.set(1.0)
    assert page.lists.contacts.texts()[0][3] == "open"


def test_copying_takes_the_list_in_sight(qtbot, opened, page):
    qtbot.keyClick(opened, Qt.Key.Key_C, Qt.KeyboardModifier.ControlModifier)
    assert QApplication.clipboard().text().startswith("time\tprobe")
    opened.session.trial.change(ALARM, delay_s=3.0)
    wait(qtbot, opened)
    qtbot.keyClick(opened, Qt.Key.Key_C, Qt.KeyboardModifier.ControlModifier)
    assert "would not have come" in QApplication.clipboard().text()


def test_a_setup_without_limits_says_what_to_do(qtbot, opened, page, tmp_path):
    path = tmp_path / "bare.toml"
    path.write_text(SETUP.partition("[[limit]]")[0], encoding="utf-8")
    opened.session.open(path)
    qtbot.waitUntil(lambda: opened.session.capture.setup.limit == (), timeout=TIMEOUT_MS)
    wait(qtbot, opened)
    for plot in page.plots():
        assert plot.is_empty()
        assert "no limits" in plot.empty_text()
    assert not page.editor.above.isVisible()
    assert page.editor.limits.text() == "no limit"


def test_every_control_can_be_reached_and_heard(page):
    for widget in (*page.editor.fields(), page.editor.limits):
        assert widget.accessibleName(), widget
        assert widget.toolTip() or not widget.isVisible(), widget
        assert widget.focusPolicy() & Qt.FocusPolicy.TabFocus
    seen: list[QWidget] = []
    widget = page.editor.above
    for _ in range(200):
        widget = widget.nextInFocusChain()
        seen.append(widget)
    for wanted in (page.level, page.boundary, page.states, page.lists.events, page.editor.delay):
        assert wanted in seen


class TestWriting:
    def test_only_with_consent(self, qtbot, opened, page):
        assert not page.editor.write.isEnabled()
        opened.session.trial.change(ALARM, above=80.0)
        assert page.editor.write.isEnabled()
        dialog = ask_to_write(opened, opened.session)
        assert not dialog.go_on.isEnabled()
        assert dialog.consent.text() == CONSENT
        dialog.consent.click()
        assert dialog.go_on.isEnabled()
        dialog.reject()

    def test_nothing_to_write_asks_nothing(self, opened, page):
        assert ask_to_write(opened, opened.session) is None

    def test_what_would_be_written_is_told(self, opened, page):
        trial = opened.session.trial
        trial.change(ALARM, above=80.0)
        (line,) = change_lines(trial.in_force, trial.setup, opened.session.unit.unit)
        assert "95 µm p-p" in line.partition("→")[0]
        assert "80 µm p-p" in line.partition("→")[2]

    def test_a_new_file_keeps_comments_and_the_capture_stays(
        self, qtbot, opened, page, tmp_path, capture_path
    ):
        session = opened.session
        before = capture_path.read_bytes()
        session.trial.change(ALARM, above=80.0)
        path = tmp_path / "proposed.toml"
        write_setup_to(session, session.trial.setup, path, WHAT)
        qtbot.waitUntil(path.exists, timeout=TIMEOUT_MS)
        wait(qtbot, opened)
        assert read_setup(path)[0].limit == session.trial.limits
        # As the text inside the capture has it, and not as a fresh one would.
        assert "threshold_v = -9.0" in path.read_text(encoding="utf-8")
        assert capture_path.read_bytes() == before
        assert session.trial.tried() == (ALARM,)
        assert any("proposed.toml" in notice.title for notice in session.notices.all)

    def test_the_file_in_use_is_taken_up_again(self, qtbot, opened, page, tmp_path):
        session = opened.session
        path = tmp_path / "used.toml"
        path.write_text(SETUP + "\n# proved in spring\n", encoding="utf-8")
        session.open(path)
        qtbot.waitUntil(
            lambda: session.capture.opened.setup_path == path and session.capture.phase == "ready",
            timeout=TIMEOUT_MS,
        )
        wait(qtbot, opened)
        session.trial.change(ALARM, above=80.0)
        write_setup_to(session, session.trial.setup, path, WHAT)
        qtbot.waitUntil(
            lambda: session.trial.in_force.limit[ALARM].above == 80.0, timeout=TIMEOUT_MS
        )
        wait(qtbot, opened)
        assert session.trial.setup is None
        assert "# proved in spring" in path.read_text(encoding="utf-8")

    def test_a_file_that_cannot_be_written_is_told(self, qtbot, opened, page, tmp_path):
        session = opened.session
        session.trial.change(ALARM, above=80.0)
        write_setup_to(session, session.trial.setup, tmp_path / "nowhere" / "x.toml", WHAT)
        qtbot.waitUntil(
            lambda: any("could not be written" in n.title for n in session.notices.all),
            timeout=TIMEOUT_MS,
        )


def test_what_was_chosen_on_another_page_holds_here(qtbot, opened, page):
    opened.show_page("moment")
    opened.session.theme.set("dark")
    opened.session.unit.toggle()
    qtbot.waitUntil(opened.is_painted)
    assert page.level.theme() is style.Theme.LIGHT
    opened.show_page("alarms")
    assert page.level.theme() is style.Theme.DARK
    assert page.boundary.unit() is LengthUnit.MIL
    assert "mil" in page.lists.events.events.text(0, 3)

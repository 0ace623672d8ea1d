"""Fields, tables and lists of the Alarms page, each by itself."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication

from analysis.model.replay_results import LimitEvent, RelayRun, ReplayChange, ReplayResult
from analysis.model.setup import Limit, Relay
from analysis.model.units import LengthUnit
from analysis.protection.contacts import ASSUMED_RELAYS
from app.plots import style
from app.widgets import words
from app.widgets.changes_list import MOST, NO_TRIAL, SAME, ChangesList, outcome_words
from app.widgets.contacts_panel import ContactsPanel, meter_words, run_at
from app.widgets.event_words import event_mark, event_words, reading_words, setting_words
from app.widgets.events_model import ON_TRIAL, WHAT, event_rows
from app.widgets.events_table import EventsTable
from app.widgets.number_field import NumberField

from .fake_alarms import alarm_series, alarm_setup
from .test_session_states import Count

TRIP = 1

# Of the off-screen platform, about windows as small as a field.
pytestmark = pytest.mark.qt_log_ignore("does not support propagateSizeHints")


def event(time_s, name, *, index=TRIP, level="trip", value=130.0, why="because", rank=None):
    return LimitEvent(time_s, name, ("DE-X",), index, "peak_to_peak", level, value, why, rank)


SET, HELD = event(47.4, "set", rank=1), event(52.9, "held", value=120.0)
FAULT = LimitEvent(60.0, "fault", ("DE-Y",), None, None, None, None, "outside −22 to −0.5 V")


def replayed(*events, relays=None, setup=None):
    series = alarm_series()
    return ReplayResult(setup or alarm_setup(), series, events, (), relays or {}, ())


class TestNumberField:
    @pytest.fixture
    def field(self, qtbot):
        made = NumberField("Level", least=0.0, may_be_none=True)
        made.setSuffix(" µm")
        made.setDecimals(1)
        qtbot.addWidget(made)
        made.show()
        made.set_number(125.0)
        made.selectAll()
        return made

    @pytest.mark.parametrize(
        ("typed", "value"),
        [("120", 120.0), ("120,5", 120.5), ("120.5 µm", 120.5), ("none", None)],
    )
    def test_what_is_typed_counts_with_enter(self, qtbot, field, typed, value):
        told = Count(field.changed)
        field.lineEdit().clear()
        qtbot.keyClicks(field, typed)
        assert len(told) == 0
        qtbot.keyClick(field, Qt.Key.Key_Return)
        assert told.values == [(value,)]
        assert field.number() == value

    def test_no_unit_after_none(self, field):
        field.set_number(None)
        assert field.text() == "none"
        assert field.number() is None

    def test_escape_brings_back_what_stands(self, qtbot, field):
        told = Count(field.changed)
        field.lineEdit().clear()
        qtbot.keyClicks(field, "9")
        qtbot.keyClick(field, Qt.Key.Key_Escape)
        assert (field.number(), field.text(), len(told)) == (125.0, "125 µm", 0)

    def test_arrows_step_and_stop_at_the_least(self, qtbot, field):
        qtbot.keyClick(field, Qt.Key.Key_Up)
        assert field.number() == 126.0
        field.set_number(0.4)
        qtbot.keyClick(field, Qt.Key.Key_Down)
        assert field.number() == 0.0
        qtbot.keyClick(field, Qt.Key.Key_Down)
        assert field.number() == 0.0
        field.set_number(None)
        qtbot.keyClick(field, Qt.Key.Key_Up)
        assert field.number() is None

    def test_being_told_says_nothing(self, field):
        told = Count(field.changed)
        field.set_number(80.0)
        field.set_number(None)
        assert len(told) == 0

    def test_a_value_that_is_shown_rounded_is_not_changed_by_leaving_the_field(self, field):
        told = Count(field.changed)
        field.set_number(4.92126)
        field.interpretText()
        assert len(told) == 0

    def test_another_unit_is_no_value_that_somebody_gave(self, field):
        told = Count(field.changed)
        field.set_number(65.35)
        field.set_measure(" mil", 2, 0.05)
        field.set_measure(" µm", 1, 1.0)
        field.set_most(3.0)
        assert len(told) == 0


class TestWords:
    def test_what_happened(self):
        setup = alarm_setup()
        assert event_words(SET, setup) == "trip set, latched"
        assert event_words(HELD, setup) == "trip held by latch"
        assert event_words(event(1.0, "cleared", index=0, level="alarm"), setup) == "alarm cleared"
        assert event_words(event(1.0, "set", index=4, level="alarm"), setup) == "gap alarm set"
        assert event_words(FAULT, setup) == "circuit fault"

    def test_a_shape_for_what_acts_and_a_dash_for_what_ends(self):
        assert event_mark(SET) == style.state_mark("trip")
        assert event_mark(FAULT) == style.state_mark("fault")
        assert event_mark(event(1.0, "reset"))[0] == "–"

    def test_readings_in_either_unit(self):
        assert reading_words(SET, LengthUnit.UM) == "130 µm"
        assert reading_words(SET, LengthUnit.MIL) == "5.12 mil"
        assert reading_words(FAULT, LengthUnit.UM) == words.DASH

    def test_settings_in_one_line(self):
        limits = alarm_setup().limit
        assert setting_words(limits[TRIP], LengthUnit.UM) == "125 µm p-p · 1 s · latching"
        assert "not latching" in setting_words(limits[0], LengthUnit.UM)
        both = setting_words(limits[5], LengthUnit.UM)
        assert both == "860 to 1660 µm · 1 s · latching · 2 of 2"
        assert "4.92 mil p-p" in setting_words(limits[TRIP], LengthUnit.MIL)

    def test_settings_of_a_region(self):
        region = {"amplitude_um": (20.0, 60.0), "lag_deg": (30.0, 90.0)}
        limit = Limit(probes=("DE-X",), measure="1x_vector", level="alarm", region=region)
        assert "20 to 60 µm" in setting_words(limit, LengthUnit.UM)
        assert "30° to 90°" in setting_words(limit, LengthUnit.UM)


class TestEvents:
    def test_without_a_trial_nothing_is_marked(self):
        rows = event_rows(replayed(SET, HELD))
        assert [row.on_trial for row in rows] == ["", ""]

    def test_a_trip_that_goes_takes_its_hold_with_it(self):
        """The comparison tells a whole time that a limit acted by its `set` alone."""
        gone = ReplayChange("gone", SET, None, "…")
        rows = event_rows(replayed(SET, HELD, FAULT), replayed(FAULT), (gone,))
        assert [row.on_trial for row in rows] == ["gone", "gone", ""]

    def test_moved_and_new_ones_stand_in_order_of_time(self):
        later, fresh = event(48.4, "set"), event(12.0, "set", index=0, level="alarm")
        changes = (
            ReplayChange("new", None, fresh, "…"),
            ReplayChange("moved", SET, later, "…"),
        )
        rows = event_rows(replayed(SET, HELD), replayed(fresh, later, HELD), changes)
        assert [(row.event.time_s, row.on_trial) for row in rows] == [
            (12.0, "new"),
            (47.4, "48.4 s"),
            (52.9, ""),
        ]

    @pytest.fixture
    def table(self, qtbot):
        made = EventsTable()
        qtbot.addWidget(made)
        made.resize(440, 180)
        made.show()
        made.set_rows(event_rows(replayed(SET, HELD, FAULT)), on_trial=False)
        return made

    def test_a_click_goes_there(self, qtbot, table):
        told = Count(table.moment_wanted)
        middle = table.visualRect(table.events.index(1, WHAT)).center()
        qtbot.mouseClick(table.viewport(), Qt.MouseButton.LeftButton, pos=middle)
        assert told.values == [(52.9,)]

    def test_arrow_keys_walk_from_event_to_event(self, qtbot, table):
        told = Count(table.moment_wanted)
        table.setFocus()
        table.setCurrentIndex(table.events.index(0, 0))
        qtbot.keyClick(table, Qt.Key.Key_Down)
        qtbot.keyClick(table, Qt.Key.Key_Down)
        qtbot.keyClick(table, Qt.Key.Key_Return)
        assert told.values == [(52.9,), (60.0,), (60.0,)]

    def test_the_trial_has_a_column_only_while_there_is_one(self, table):
        assert table.isColumnHidden(ON_TRIAL)
        table.set_rows(event_rows(replayed(SET), replayed(), ()), on_trial=True)
        assert not table.isColumnHidden(ON_TRIAL)
        assert table.events.text(0, ON_TRIAL) == "gone"

    def test_each_row_tells_its_whole_story(self, table):
        index = table.events.index(0, WHAT)
        tip = table.events.data(index, Qt.ItemDataRole.ToolTipRole)
        assert "47.4 s" in tip
        assert "because" in tip
        assert "what happened" in table.events.data(index, Qt.ItemDataRole.AccessibleTextRole)

    def test_copying_gives_the_reasons_too(self, table):
        lines = table.copy().splitlines()
        assert lines[0].split("\t") == [
            "time", "probe", "what happened", "reading", "first-out", "why",
        ]  # fmt: skip
        assert lines[1].split("\t")[0] == "47.4 s"
        assert lines[1].endswith("because")
        assert QGuiApplication.clipboard().text().splitlines() == lines

    def test_columns_fit_the_table(self, table):
        assert not table.horizontalScrollBar().isVisible()
        used = sum(table.columnWidth(c) for c in range(ON_TRIAL))
        assert used <= table.viewport().width()

    def test_an_empty_table_says_why(self, table):
        table.set_empty_text("Nothing happened.")
        table.set_rows((), on_trial=False)
        assert table.accessibleDescription() == "Nothing happened."
        table.grab()

    def test_both_themes_can_be_drawn(self, table):
        table.set_rows(event_rows(replayed(SET, HELD, FAULT), replayed(), ()), on_trial=True)
        light = table.grab().toImage()
        table.set_theme(style.Theme.DARK)
        assert table.grab().toImage() != light


class TestChanges:
    @pytest.fixture
    def changes(self, qtbot):
        made = ChangesList()
        qtbot.addWidget(made)
        made.show()
        return made

    def test_it_says_what_to_do_and_what_is_the_same(self, changes):
        changes.set_changes((), on_trial=False)
        assert changes.empty_text() == NO_TRIAL
        changes.set_changes((), on_trial=True)
        assert changes.empty_text() == SAME

    def test_sentences_with_marks_and_where_they_lead(self, qtbot, changes):
        gone = ReplayChange("gone", SET, None, "trip at 47.4 s would not have come")
        new = ReplayChange("new", None, event(12.0, "set"), "alarm would have come at 12 s")
        changes.set_changes((new, gone), on_trial=True)
        assert changes.texts() == [f"+ {new.sentence}", f"− {gone.sentence}"]
        told = Count(changes.moment_wanted)
        changes.list.setFocus()
        changes.list.setCurrentRow(0)
        qtbot.keyClick(changes.list, Qt.Key.Key_Down)
        changes.list.itemClicked.emit(changes.list.item(0))
        assert told.values == [(47.4,), (12.0,)]

    def test_a_flood_is_cut_and_counted(self, changes):
        one = ReplayChange("gone", SET, None, "gone")
        changes.set_changes((one,) * (MOST + 5), on_trial=True)
        assert changes.texts()[-1] == "and 5 more"
        changes.set_changes((one,), on_trial=True)
        assert len(changes.texts()) == 1

    def test_the_gravest_stands_in_the_headline(self):
        alarm = ReplayChange("gone", event(9.0, "set", index=0, level="alarm"), None, "alarm gone")
        trip = ReplayChange("gone", SET, None, "trip gone")
        assert outcome_words((alarm, trip)) == "On trial: trip gone · 1 more change"
        assert outcome_words((alarm,)) == "On trial: alarm gone"
        assert "nothing" in outcome_words(())


class TestContacts:
    RUNS = (
        RelayRun(0.0, 10.0, False, False, False),
        RelayRun(10.0, 20.0, True, True, True),
    )

    def test_the_run_that_holds(self):
        assert run_at(self.RUNS, 10.0).active
        assert not run_at(self.RUNS, 9.9).active
        assert run_at(self.RUNS, 21.0) is None
        assert run_at(self.RUNS, -1.0) is None
        assert run_at((), 1.0) is None

    def test_what_a_meter_reads(self):
        assert "closed" in meter_words(self.RUNS[1])
        assert "0 Ω" in meter_words(self.RUNS[1])
        assert "open" in meter_words(self.RUNS[0])
        assert meter_words(None) == words.DASH

    def test_rows_follow_the_moment(self, qtbot):
        panel = ContactsPanel()
        qtbot.addWidget(panel)
        result = replayed(relays={"ALARM": self.RUNS, "TRIP": self.RUNS[:1]})
        panel.show_relays(ASSUMED_RELAYS, result, None, 15.0)
        assert [row[0] for row in panel.texts()] == ["ALARM", "TRIP"]
        assert panel.texts()[0][2:4] == ["acts, coil on", "closed, ≈ 0 Ω"]
        panel.show_relays(ASSUMED_RELAYS, result, None, 5.0)
        assert panel.texts()[0][2:4] == ["at rest, coil off", "open"]
        assert "assumed" in panel.note.text()

    def test_the_trial_stands_beside_what_is_in_force(self, qtbot):
        panel = ContactsPanel()
        qtbot.addWidget(panel)
        one = replayed(relays={"ALARM": self.RUNS})
        other = replayed(relays={"ALARM": (RelayRun(0.0, 20.0, False, False, False),)})
        panel.show_relays(ASSUMED_RELAYS[:1], one, other, 15.0)
        assert panel.texts()[0][3:] == ["closed, ≈ 0 Ω", "open"]

    def test_relays_of_the_setup_are_not_called_assumed(self, qtbot):
        panel = ContactsPanel()
        qtbot.addWidget(panel)
        relay = Relay(name="K1", driven_by="fault", contact="normally_closed", energised="healthy")
        setup = alarm_setup().model_copy(update={"relay": (relay,)})
        panel.show_relays((relay,), replayed(setup=setup), None, 1.0)
        assert "assumed" not in panel.note.text()
        assert panel.texts()[0][1] == "any circuit fault"
        panel.show_relays((), None, None, 1.0)
        assert panel.texts() == []

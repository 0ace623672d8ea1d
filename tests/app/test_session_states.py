"""The session's parts: one owner each, and no signal for a value that is there already."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from PySide6.QtCore import QSettings

from analysis.model.errors import InputError, SetupError, SetupIssue
from analysis.model.span import TimeSpan
from analysis.model.units import LengthUnit
from app.dialogs.channel_rows import guess_rows, rows_of_setup, setup_of_rows
from app.session.choice_state import ChoiceState
from app.session.display_state import ThemeState, UnitState
from app.session.moment_state import MomentState
from app.session.notices import Notice, NoticeState, notice_of_error
from app.session.session import Session
from app.session.settings import RECENT_MAX, Settings
from app.session.span_state import SpanState


class Count:
    """Counts what a signal emits."""

    def __init__(self, signal) -> None:
        self.values: list[tuple] = []
        signal.connect(lambda *values: self.values.append(values))

    def __len__(self) -> int:
        return len(self.values)


def test_the_moment_is_held_in_the_capture(qapp):
    moment = MomentState()
    moment.set_limits(TimeSpan(10.0, 20.0))
    assert moment.moment_s == 15.0
    moved = Count(moment.moved)
    moment.set(12.0)
    moment.set(12.0)
    moment.set(math.nan)
    assert moved.values == [(12.0,)]
    moment.set(-1.0)
    assert moment.moment_s == 10.0
    moment.set(math.inf)
    assert moment.moment_s == 20.0


def test_half_turns_emit_once(qapp):
    moment = MomentState()
    changed = Count(moment.half_turns_changed)
    moment.set_half_turns(8.0)
    moment.set_half_turns(8.0)
    assert changed.values == [(8.0,)]


def test_a_span_is_clipped_and_an_empty_one_is_none(qapp):
    span = SpanState()
    span.set_limits(TimeSpan(0.0, 10.0))
    changed = Count(span.changed)
    span.set(TimeSpan(8.0, 30.0))
    assert span.span == TimeSpan(8.0, 10.0)
    span.set(TimeSpan(8.0, 99.0))
    assert len(changed) == 1
    span.set(TimeSpan(12.0, 13.0))
    assert span.span is None


def test_units_and_themes_emit_only_changes(qapp):
    unit = UnitState()
    changed = Count(unit.changed)
    unit.set(LengthUnit.UM)
    unit.toggle()
    unit.set(LengthUnit.MIL)
    assert changed.values == [(LengthUnit.MIL,)]
    theme = ThemeState("system", system_dark=False)
    told = Count(theme.changed)
    theme.set_system_dark(True)
    assert theme.dark
    theme.set("dark")
    theme.set("dark")
    theme.set_system_dark(False)
    assert theme.dark
    assert len(told) == 2


def test_choices_name_what_differs(qapp):
    choice = ChoiceState()
    changed = Count(choice.changed)
    choice.set(plane=None, orbit_paths="both")
    choice.set(plane="Drive end", orbit_paths="both")
    choice.set_spectrum(axis="hz")
    choice.set_spectrum(axis="hz")
    assert changed.values == [(frozenset({"plane"}),), (frozenset({"spectrum"}),)]
    with pytest.raises(AttributeError):
        choice.set(nonsense=1)


def test_a_newer_notice_of_a_topic_replaces_the_older(qapp):
    notices = NoticeState()
    changed = Count(notices.changed)
    notices.show(Notice("open", "error", "one"))
    notices.show(Notice("setup", "error", "two"))
    notices.show(Notice("open", "error", "three"))
    assert [n.title for n in notices.all] == ["two", "three"]
    notices.show(Notice("open", "error", "three"))
    notices.dismiss("nothing")
    assert len(changed) == 3


def test_errors_become_words_a_reader_can_act_on():
    issues = (
        SetupIssue("error", "probe.DE-X", "no angle", 4),
        SetupIssue("error", "limit", "no level", 9),
    )
    notice = notice_of_error("setup", "x", SetupError("pump.toml", issues))
    assert "2 errors" in notice.title
    assert notice.text.splitlines() == [str(issue) for issue in issues]
    inside = notice_of_error("setup", "x", SetupError("setup in a.h5", issues))
    assert inside.title.startswith("The setup in a.h5 has")
    plain = notice_of_error("open", "a.h5 could not be opened", InputError("a.h5: empty"))
    assert (plain.title, plain.text) == ("a.h5 could not be opened", "a.h5: empty")
    fault = notice_of_error("x", "It stopped", ZeroDivisionError("division"), "the trace")
    assert "fault of the program" in fault.text
    assert fault.details == "the trace"


def test_settings_are_remembered(qapp, tmp_path: Path):
    file = str(tmp_path / "s.ini")
    settings = Settings(QSettings(file, QSettings.Format.IniFormat))
    assert settings.recent == ()
    changed = Count(settings.recent_changed)
    for number in range(RECENT_MAX + 3):
        settings.add_recent(Path(f"/a/{number}.h5"))
    settings.add_recent(Path("/a/5.h5"))
    settings.add_recent(Path("/a/5.h5"))
    assert len(changed) == RECENT_MAX + 4
    settings.set_unit(LengthUnit.MIL)
    settings.set_theme("dark")
    settings._store.sync()
    again = Settings(QSettings(file, QSettings.Format.IniFormat))
    assert again.recent[0] == Path("/a/5.h5")
    assert len(again.recent) == RECENT_MAX
    assert again.unit is LengthUnit.MIL
    assert again.theme == "dark"


def test_nonsense_in_the_settings_counts_as_not_set(qapp, tmp_path: Path):
    file = tmp_path / "s.ini"
    file.write_text("[General]\nrecent=@Invalid()\nunit=furlong\ntheme=pink\ngeometry=7\n")
    settings = Settings(QSettings(str(file), QSettings.Format.IniFormat))
    assert settings.recent == ()
    assert settings.unit is LengthUnit.UM
    assert settings.theme == "system"
    assert settings.geometry is None


def test_choices_come_back_at_the_next_start(qapp, tmp_path: Path):
    file = str(tmp_path / "s.ini")
    first = Session(Settings(QSettings(file, QSettings.Format.IniFormat)))
    first.moment.set_half_turns(16.0)
    first.choice.set(orbit_paths="raw")
    first.choice.set_spectrum(window="flat-top", scaling="rms")
    first.settings._store.sync()
    first.close()
    again = Session(Settings(QSettings(file, QSettings.Format.IniFormat)))
    assert again.moment.half_turns == 16.0
    assert again.choice.now.orbit_paths == "raw"
    assert again.choice.now.spectrum.window == "flat-top"
    assert again.choice.now.spectrum.scaling == "rms"
    again.close()


def test_rows_describe_the_setup_that_they_make():
    rows = guess_rows(["DE_X", "DE_Y", "THR_A", "Z2", "KEY", "TACHO"])
    assert [row.role for row in rows] == [
        "radial",
        "radial",
        "axial",
        "axial",
        "reference",
        "ignore",
    ]
    setup, problems = setup_of_rows(rows, rotation="cw", scale_unit="mil", title="P-204")
    assert problems == ()
    assert setup.plane[0].probes == ("DE_X", "DE_Y")
    assert setup.probe[0].scale_factor_v_per_um == pytest.approx(7.874e-3, rel=1e-4)
    again = rows_of_setup([row.channel for row in rows], setup)
    assert setup_of_rows(again, rotation="cw", scale_unit="mil", title="P-204")[0] == setup

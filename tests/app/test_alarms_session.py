"""Trial settings, resets, and the reader that replays them: each with the real logic behind it."""

from __future__ import annotations

import threading
import time

import pytest

from analysis.files.hdf5_write import write_hdf5
from analysis.files.setup_read import parse_setup
from analysis.model.span import TimeSpan
from app.session.alarms_reader import telling_limit
from app.session.reset_state import ResetState
from app.session.trial_state import TrialState

from .made_capture import SETUP, SWELL_AT_S, made_capture
from .test_session_states import Count

TIMEOUT_MS = 20_000


@pytest.fixture
def setup():
    return parse_setup(SETUP, "")[0]


@pytest.fixture
def trial(qapp, setup):
    state = TrialState()
    state.set_in_force(setup)
    return state


@pytest.fixture
def asked(qtbot, session, capture_path):
    """The session with the capture open and the limits replayed."""
    session.alarms.want(True)
    session.open(capture_path)
    qtbot.waitUntil(lambda: session.alarms.result is not None, timeout=TIMEOUT_MS)
    qtbot.waitUntil(session.runner.is_idle, timeout=TIMEOUT_MS)
    return session


class TestTrial:
    def test_nothing_is_tried_at_first(self, trial, setup):
        assert trial.setup is None
        assert trial.limits == setup.limit
        assert trial.tried() == ()

    def test_a_change_is_told_once_and_touches_one_limit(self, trial, setup):
        told = Count(trial.changed)
        assert trial.change(1, delay_s=2.0, latching=True)
        assert trial.change(1, delay_s=2.0)
        assert len(told) == 1
        assert trial.tried() == (1,)
        assert trial.setup.limit[0] == setup.limit[0]
        assert (trial.setup.limit[1].delay_s, trial.setup.limit[1].latching) == (2.0, True)
        assert trial.in_force is setup
        assert setup.limit[1].delay_s == 0.0

    def test_what_no_limit_can_have_changes_nothing(self, trial):
        told = Count(trial.changed)
        assert not trial.change(0, below=200.0)
        assert not trial.change(0, above=None)
        assert not trial.change(0, votes=2)
        assert not trial.change(0, delay_s=-1.0)
        assert not trial.change(7, delay_s=1.0)
        assert len(told) == 0
        assert trial.setup is None

    def test_back_one_and_back_all(self, trial):
        trial.change(0, above=50.0)
        trial.change(1, above=150.0)
        trial.back(0)
        assert trial.tried() == (1,)
        trial.back()
        assert trial.setup is None
        told = Count(trial.changed)
        trial.back()
        assert len(told) == 0

    def test_setting_what_is_in_force_ends_the_trial(self, trial):
        trial.change(0, above=50.0)
        trial.change(0, above=95.0)
        assert trial.setup is None

    def test_another_setup_ends_the_trial(self, trial, setup):
        trial.choose(1)
        trial.change(1, above=150.0)
        trial.set_in_force(setup, keep_chosen=True)
        assert trial.setup is None
        assert trial.chosen == 1
        trial.set_in_force(setup.model_copy(update={"limit": setup.limit[:1]}), keep_chosen=True)
        assert trial.chosen is None
        trial.set_in_force(None)
        assert trial.limits == ()

    def test_choosing_tells_once(self, trial):
        told = Count(trial.chosen_changed)
        trial.choose(1)
        trial.choose(1)
        trial.choose(9)
        assert len(told) == 1


class TestResets:
    @pytest.fixture
    def resets(self, qapp):
        state = ResetState()
        state.set_limits(TimeSpan(0.0, 10.0))
        return state

    def test_they_stand_in_order_within_the_capture(self, resets):
        told = Count(resets.changed)
        for time_s in (7.0, 2.0, 2.02, -1.0, 11.0):
            resets.add(time_s)
        assert resets.times_s == (2.0, 7.0)
        assert len(told) == 2

    def test_toggling_takes_off_what_is_near(self, resets):
        resets.toggle(3.0)
        resets.toggle(3.04)
        assert resets.times_s == ()
        resets.toggle(3.0)
        resets.toggle(3.2)
        assert resets.times_s == (3.0, 3.2)
        resets.remove(9.0)
        assert len(resets.times_s) == 2

    def test_another_capture_has_none(self, resets):
        resets.add(3.0)
        resets.set_limits(TimeSpan(0.0, 5.0))
        assert resets.times_s == ()


class TestReader:
    def test_nothing_is_taken_before_somebody_wants_it(self, qtbot, session, capture_path):
        session.open(capture_path)
        qtbot.waitUntil(lambda: session.timeline.complete, timeout=TIMEOUT_MS)
        qtbot.waitUntil(session.runner.is_idle, timeout=TIMEOUT_MS)
        assert session.alarms.series is None
        session.alarms.want(True)
        qtbot.waitUntil(lambda: session.alarms.result is not None, timeout=TIMEOUT_MS)
        assert session.alarms.phase == "ready"

    def test_the_alarm_of_the_swell_is_found(self, asked):
        events = asked.alarms.result.in_force.events
        assert [(e.event, e.level) for e in events] == [("set", "alarm"), ("cleared", "alarm")]
        assert events[0].time_s == pytest.approx(SWELL_AT_S - 0.25, abs=0.2)

    def test_the_limit_that_acted_is_looked_at_first(self, qtbot, asked):
        assert asked.trial.chosen == 0
        qtbot.waitUntil(lambda: asked.alarms.result.boundary is not None, timeout=TIMEOUT_MS)
        assert asked.alarms.result.boundary.index == 0

    def test_a_trip_that_acted_comes_before_an_alarm(self, qtbot, asked):
        asked.trial.change(1, above=100.0)
        qtbot.waitUntil(lambda: asked.alarms.result.trial is not None, timeout=TIMEOUT_MS)
        assert telling_limit(asked.alarms.result.trial) == 1
        assert telling_limit(asked.alarms.result.in_force) == 0

    def test_a_trial_is_laid_beside_what_is_in_force(self, qtbot, asked):
        asked.trial.change(0, delay_s=2.0)
        qtbot.waitUntil(lambda: asked.alarms.result.trial is not None, timeout=TIMEOUT_MS)
        (change,) = asked.alarms.result.changes
        assert change.kind == "gone"
        assert change.before.level == "alarm"
        assert asked.alarms.result.trial.events == ()
        asked.trial.back()
        qtbot.waitUntil(lambda: asked.alarms.result.trial is None, timeout=TIMEOUT_MS)
        assert asked.alarms.result.changes == ()

    def test_a_reset_lets_go_of_a_latch(self, qtbot, asked):
        asked.trial.change(0, latching=True)
        asked.resets.add(5.5)
        qtbot.waitUntil(
            lambda: (
                asked.alarms.result.in_force.resets_s == (5.5,)
                and asked.alarms.result.trial is not None
            ),
            timeout=TIMEOUT_MS,
        )
        names = [event.event for event in asked.alarms.result.trial.events]
        assert names == ["set", "held", "reset"]

    def test_the_measures_are_taken_once(self, qtbot, asked):
        series = asked.alarms.series
        asked.trial.change(0, above=60.0)
        asked.resets.add(2.0)
        asked.alarms.want(False)
        asked.alarms.want(True)
        qtbot.waitUntil(asked.runner.is_idle, timeout=TIMEOUT_MS)
        assert asked.alarms.series is series

    def test_taking_them_can_be_stopped_and_taken_up_again(
        self, qtbot, session, capture_path, monkeypatch
    ):
        import analysis.protection.monitor as monitor

        take, started = monitor.monitor_series, threading.Event()

        def slow(*given, progress, **more):
            started.set()
            while True:
                progress.report(0.1)
                time.sleep(0.005)

        monkeypatch.setattr(monitor, "monitor_series", slow)
        session.alarms.want(True)
        session.open(capture_path)
        qtbot.waitUntil(started.is_set, timeout=TIMEOUT_MS)
        session.runner.cancel("monitor")
        assert session.alarms.phase == "cut"
        monkeypatch.setattr(monitor, "monitor_series", take)
        session.alarms.want(False)
        session.alarms.want(True)
        qtbot.waitUntil(lambda: session.alarms.phase == "ready", timeout=TIMEOUT_MS)

    def test_only_the_newest_of_a_drag_is_answered_in_the_end(self, qtbot, asked):
        told = Count(asked.alarms.answered)
        for step in range(40):
            asked.trial.change(0, above=60.0 + step)
        qtbot.waitUntil(asked.runner.is_idle, timeout=TIMEOUT_MS)
        assert asked.alarms.result.request.trial.limit[0].above == 99.0
        assert len(told) < 40

    def test_another_capture_forgets_all(self, qtbot, asked, tmp_path):
        path = tmp_path / "other.h5"
        write_hdf5(path, made_capture(length_s=3.0))
        asked.trial.change(0, above=60.0)
        asked.resets.add(2.0)
        series = asked.alarms.series
        asked.open(path)
        qtbot.waitUntil(
            lambda: asked.alarms.series not in (None, series) and asked.alarms.phase == "ready",
            timeout=TIMEOUT_MS,
        )
        qtbot.waitUntil(asked.runner.is_idle, timeout=TIMEOUT_MS)
        assert asked.trial.setup is None
        assert asked.resets.times_s == ()
        assert asked.alarms.result.in_force.events == ()

    def test_another_setup_of_the_same_capture_takes_the_measures_anew(
        self, qtbot, asked, tmp_path
    ):
        path = tmp_path / "other.toml"
        path.write_text(SETUP.replace("above = 95", "above = 110"), encoding="utf-8")
        asked.resets.add(2.0)
        series = asked.alarms.series
        asked.open(path)
        qtbot.waitUntil(lambda: asked.alarms.series not in (None, series), timeout=TIMEOUT_MS)
        qtbot.waitUntil(asked.runner.is_idle, timeout=TIMEOUT_MS)
        assert asked.alarms.result.in_force.setup.limit[0].above == 110.0
        assert asked.resets.times_s == (2.0,)

    def test_a_failure_is_told_and_the_next_answer_takes_it_back(self, qtbot, asked, monkeypatch):
        import analysis.views.alarms as alarms

        answer = alarms.answer_alarms

        def fail(*_given):
            raise RuntimeError("no")

        monkeypatch.setattr(alarms, "answer_alarms", fail)
        asked.trial.change(0, above=60.0)
        qtbot.waitUntil(lambda: asked.alarms.phase == "failed", timeout=TIMEOUT_MS)
        assert any("replayed" in notice.title for notice in asked.notices.all)
        monkeypatch.setattr(alarms, "answer_alarms", answer)
        asked.trial.change(0, above=61.0)
        qtbot.waitUntil(lambda: asked.alarms.phase == "ready", timeout=TIMEOUT_MS)
        assert not any("replayed" in notice.title for notice in asked.notices.all)


class TestOthers:
    def test_a_second_capture_joins_the_boundary(self, qtbot, asked, tmp_path):
        path = tmp_path / "second.h5"
        write_hdf5(path, made_capture(length_s=5.0))
        asked.others.add([path])
        qtbot.waitUntil(
            lambda: (
                asked.alarms.result.boundary is not None
                and len(asked.alarms.result.boundary.curves) == 2
            ),
            timeout=TIMEOUT_MS,
        )
        assert set(asked.alarms.result.boundary.curves) == {"steady.h5", "second.h5"}
        asked.others.remove("second.h5")
        qtbot.waitUntil(lambda: len(asked.alarms.result.boundary.curves) == 1, timeout=TIMEOUT_MS)

    def test_one_of_the_same_name_stands_beside_its_namesake(self, qtbot, asked, tmp_path):
        path = tmp_path / "steady.h5"
        write_hdf5(path, made_capture(length_s=5.0))
        asked.others.add([path])
        qtbot.waitUntil(lambda: bool(asked.others.series), timeout=TIMEOUT_MS)
        assert list(asked.others.series) == [f"{tmp_path.name}/steady.h5"]
        qtbot.waitUntil(asked.runner.is_idle, timeout=TIMEOUT_MS)

    def test_one_without_the_probes_is_refused_with_a_reason(self, qtbot, asked, tmp_path):
        path = tmp_path / "alien.csv"
        path.write_text("time_s,P\n0,-9\n0.1,-9\n0.2,-9\n", encoding="utf-8")
        asked.others.add([path])
        qtbot.waitUntil(asked.runner.is_idle, timeout=TIMEOUT_MS)
        qtbot.waitUntil(lambda: bool(asked.notices.all), timeout=TIMEOUT_MS)
        assert "none of the probes" in asked.notices.all[-1].text
        assert asked.others.series == {}

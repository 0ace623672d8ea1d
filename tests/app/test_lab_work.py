"""The Lab page: its tasks, what is saved of it, and its rotor."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QStandardPaths, Qt
from PySide6.QtWidgets import QFileDialog

from analysis.rotor.vectors import amplitude_and_lag
from analysis.simulate.lab_reopen import state_of
from analysis.simulate.lab_state import LabState, Precession
from analysis.simulate.recipe import read_recipe
from analysis.simulate.tasks import KINDS

from .conftest import settled
from .lab_reader import drawn
from .plot_contract import words_of


class TestTasks:
    def test_the_pictures_keep_the_answer_until_it_is_given(self, qtbot, page):
        page.show_leaf("tasks")
        tasks = page.leaf("tasks")
        drawn(qtbot, page)
        assert tasks.task.kind == "phase_lag"
        everywhere = [word for plot in page.plots() for word in words_of(plot)]
        assert not any("lag" in word for word in everywhere)
        assert "task" in page.bench.finding.text()
        truth = page.model.result.readings["LAB-X"].vectors[1]
        _, lag = amplitude_and_lag(truth)
        tasks.field("lag_deg").setText(f"{(lag + 180.0) % 360.0:.0f}")
        tasks.check_button.click()
        assert tasks.verdict.text().startswith("✗")
        assert "furthest" in tasks.verdict.text()
        assert tasks.hidden()
        tasks.field("lag_deg").setText(f"{lag:.0f}".replace(".", ","))
        qtbot.keyClick(tasks.field("lag_deg"), Qt.Key.Key_Return)
        assert tasks.verdict.text().startswith("✓")
        assert not tasks.hidden()
        drawn(qtbot, page)
        everywhere = [word for plot in page.plots() for word in words_of(plot)]
        assert any("lag" in word for word in everywhere)

    @pytest.mark.parametrize("kind", list(KINDS))
    def test_every_kind_can_be_made_and_answered(self, qtbot, page, kind):
        page.show_leaf("tasks")
        tasks = page.leaf("tasks")
        tasks.kinds.chosen.emit(kind)
        drawn(qtbot, page)
        assert tasks.question.text() == tasks.task.question
        tasks.check_button.click()
        # Nothing was answered: it is said what is wanted, and nothing is given away.
        qtbot.waitUntil(lambda: tasks.verdict.text().startswith("✗"), timeout=20_000)
        assert tasks.hidden()
        first = tasks.task
        tasks.next_button.click()
        assert tasks.task.kind == kind
        assert tasks.task.states != first.states

    def test_swapped_probes_can_be_found(self, qtbot, page):
        page.show_leaf("tasks")
        tasks = page.leaf("tasks")
        tasks.kinds.chosen.emit("swapped")
        seen = {}
        for place, name in enumerate("ABC"):
            tasks.states.chosen.emit(place)
            spectrum = drawn(qtbot, page).result.spectrum
            top = spectrum.frequency[int(np.argmax(spectrum.amplitude_um))]
            seen[name] = top > 0.0
        assert page.bench.shaft.is_empty()
        [swapped] = [name for name, forward in seen.items() if not forward]
        tasks.field("plane").button(swapped).click()
        tasks.check_button.click()
        assert tasks.verdict.text().startswith("✓")
        drawn(qtbot, page)
        assert not page.bench.shaft.is_empty()

    def test_an_alarm_is_replayed_behind_the_picture(self, qtbot, page):
        page.show_leaf("tasks")
        tasks = page.leaf("tasks")
        tasks.kinds.chosen.emit("alarm")
        tasks.field("above_um").setText("1")
        tasks.field("delay_s").setText("0")
        tasks.check_button.click()
        assert "Replaying" in tasks.verdict.text()
        qtbot.waitUntil(lambda: "raise the level" in tasks.verdict.text(), timeout=30_000)

    def test_leaving_the_task_shows_everything_again(self, qtbot, page):
        page.show_leaf("tasks")
        drawn(qtbot, page)
        assert page.bench.view.hidden
        page.show_leaf("compose")
        drawn(qtbot, page)
        assert not page.bench.view.hidden


class TestKeeping:
    def state(self):
        lines = (Precession(1.0, 55.0, 20.0, 15.0, 70.0), Precession(0.5, 18.0, 100.0))
        return LabState(lines, speed_rpm=2400.0, noise_um_rms=0.2, title="Half speed & more")

    def test_the_other_pages_measure_what_the_lab_shows(self, qtbot, window, page):
        page.model.load(self.state())
        lab = drawn(qtbot, page).result
        page.save.open.click()
        session = window.session
        qtbot.waitUntil(
            lambda: session.reader.result is not None and session.timeline.complete,
            timeout=30_000,
        )
        qtbot.waitUntil(lambda: settled(session), timeout=20_000)
        assert window.header.pages.value() == "moment"
        readings = session.reader.result.readings
        for name, expected in lab.readings.items():
            amplitude, lag = amplitude_and_lag(expected.vectors[1])
            vector = readings.probes[name].vectors[1]
            assert vector.amplitude.value == pytest.approx(amplitude, abs=0.3)
            away = (vector.phase_lag_deg.value - lag + 180.0) % 360.0 - 180.0
            assert abs(away) < 0.5
        [plane] = readings.planes.values()
        assert plane.orbits[1].precession == lab.seen_ellipse.precession
        assert plane.orbits[1].major_um == pytest.approx(lab.seen_ellipse.major_um, abs=0.4)

    def test_captures_that_were_only_opened_do_not_pile_up(self, qtbot, window, page):
        home = QStandardPaths.writableLocation(QStandardPaths.StandardLocation.AppLocalDataLocation)
        folder = Path(home) / "Lab"
        folder.mkdir(parents=True, exist_ok=True)
        for number in range(12):
            (folder / f"old {number}.h5").write_bytes(b"")
        page.save.open.click()
        qtbot.waitUntil(lambda: window.session.capture.capture is not None, timeout=30_000)
        qtbot.waitUntil(lambda: settled(window.session), timeout=20_000)
        assert len(list(folder.glob("*.h5"))) <= 6

    def test_a_recipe_is_saved_and_read_back(self, qtbot, window, page, tmp_path, monkeypatch):
        target = tmp_path / "mine.toml"
        monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_a, **_k: (str(target), ""))
        monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_a, **_k: (str(target), ""))
        page.model.load(self.state())
        page.save.wanted.emit("recipe")
        qtbot.waitUntil(target.is_file, timeout=10_000)
        assert state_of(read_recipe(target)) == page.model.state
        qtbot.waitUntil(window.session.runner.is_idle)
        kept = page.model.state
        page.model.load(LabState())
        page.save.load_wanted.emit()
        qtbot.waitUntil(lambda: page.model.state == kept, timeout=10_000)

    def test_a_file_that_is_no_recipe_is_told(self, qtbot, window, page, tmp_path, monkeypatch):
        target = tmp_path / "other.toml"
        target.write_text("version = 1\n", encoding="utf-8")
        monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_a, **_k: (str(target), ""))
        before = page.model.state
        page.save.load_wanted.emit()
        qtbot.waitUntil(lambda: bool(window.session.notices.all), timeout=10_000)
        assert "other.toml" in window.session.notices.all[0].title
        assert page.model.state == before

    def test_a_capture_is_saved_where_the_reader_wants_it(
        self, qtbot, window, page, tmp_path, monkeypatch
    ):
        target = tmp_path / "mine"
        monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_a, **_k: (str(target), ""))
        page.save.wanted.emit("capture")
        qtbot.waitUntil(target.with_suffix(".h5").is_file, timeout=20_000)
        qtbot.waitUntil(window.session.runner.is_idle)
        assert window.session.capture.capture is None


class TestRotor:
    @pytest.fixture
    def rotor(self, qtbot, page):
        page.show_leaf("rotor")
        made = page.leaf("rotor")
        qtbot.waitUntil(lambda: made.lab.answer.complete and page.is_ready(), timeout=20_000)
        qtbot.waitUntil(lambda: made.bench.view is not None)
        return made

    def test_the_curves_and_the_shaft_agree_at_a_speed(self, qtbot, rotor):
        rotor.controls.speed.slider.setValue(310)
        assert rotor.lab.speed_rpm == 3100.0
        qtbot.waitUntil(lambda: "At 3100" in rotor.bench.finding.text())
        trace = next(each for each in rotor.lab.answer.traces if each.probe == "LAB-X")
        at = np.interp(3100.0, trace.speed_rpm, np.abs(trace.vectors))
        amplitude, _ = rotor.bench.view.once("LAB-X")
        assert amplitude == pytest.approx(float(at), rel=2e-3)

    def test_a_click_into_the_curves_moves_the_speed(self, rotor):
        trace = rotor.lab.answer.traces[0]
        rotor.bench.bode.moment_requested.emit(float(trace.time_s[100]))
        assert rotor.lab.speed_rpm == pytest.approx(float(trace.speed_rpm[100]), abs=1.0)

    def test_cross_coupling_makes_it_unstable_and_says_so(self, qtbot, rotor):
        slider = rotor.controls.slider("fluid_ratio")
        slider.slider.setValue(48)
        qtbot.waitUntil(lambda: rotor.lab.answer.complete, timeout=20_000)
        threshold = rotor.lab.answer.threshold_rpm
        assert threshold is not None
        qtbot.waitUntil(lambda: f"{threshold:.0f} r/min" in rotor.bench.remarks.text())
        rotor.lab.set_speed(threshold + 500.0)
        qtbot.waitUntil(lambda: "Unstable at this speed" in rotor.bench.remarks.text())
        assert "grows" in rotor.bench.modes.text()

    def test_it_is_run_in_time(self, qtbot, rotor):
        rotor.lab.set_sweep(seconds=3.0)
        rotor.controls.start.click()
        assert rotor.controls.start.text() == "Stop the run"
        qtbot.waitUntil(lambda: rotor.lab.run is not None, timeout=60_000)
        assert {trace.probe for trace in rotor.lab.run.traces} == {"LAB-X", "LAB-Y"}
        qtbot.waitUntil(lambda: "Run:" in rotor.bench.remarks.text())
        rotor.controls.slider("mass_kg").slider.setValue(80)
        # It was of another rotor.
        assert rotor.lab.run is None

    def test_a_run_that_cannot_be_is_told(self, rotor):
        rotor.lab.set_sweep(from_rpm=5400.0)
        assert "another speed" in rotor.controls.refused.text()
        assert rotor.lab.sweep.from_rpm == 600.0

    def test_a_run_is_opened_on_the_other_pages(self, qtbot, window, page, rotor):
        rotor.lab.set_sweep(seconds=5.0, from_rpm=1200.0, to_rpm=3000.0)
        page.save.open.click()
        session = window.session
        qtbot.waitUntil(lambda: session.timeline.complete, timeout=60_000)
        qtbot.waitUntil(lambda: settled(session), timeout=20_000)
        table = session.timeline.result.table
        assert float(np.nanmin(table.speed_rpm)) == pytest.approx(1200.0, rel=0.01)
        assert float(np.nanmax(table.speed_rpm)) == pytest.approx(3000.0, rel=0.01)

    def test_an_unstable_run_is_not_made_into_a_capture(self, window, page, rotor):
        rotor.controls.slider("cross_n_per_m").slider.setValue(180)
        page.save.open.click()
        assert "unstable" in window.session.notices.all[0].text

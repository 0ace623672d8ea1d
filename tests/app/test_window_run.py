"""The Run page in the window, with the real numbers and a real mouse."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from analysis.files.setup_read import parse_setup
from analysis.files.setup_write import updated_toml
from analysis.rotor.vectors import vector_from
from analysis.views.runout import setup_with
from app.dialogs.slow_roll import SlowRollDialog
from app.pages import run_page
from app.plots import style
from tests.app.vector_table import write_vector_table

from .conftest import settled

TIMEOUT_MS = 40_000
SAMPLE = Path(__file__).parents[2] / "sample_data" / "run_up.h5"

pytestmark = pytest.mark.qt_log_ignore("does not support propagateSizeHints")


def wait(qtbot, window) -> None:
    session = window.session
    qtbot.waitUntil(
        lambda: session.run.response is not None and not session.run.looking, timeout=TIMEOUT_MS
    )
    # All at the same instant: what is drawn may ask for more.
    qtbot.waitUntil(
        lambda: settled(session) and window.pages["run"].is_settled(), timeout=TIMEOUT_MS
    )
    qtbot.waitUntil(window.is_painted, timeout=TIMEOUT_MS)


@pytest.fixture
def page(qtbot, window) -> run_page.RunPage:
    """The run-up on the page, with everything answered and drawn."""
    window.resize(1280, 800)
    window.session.open(SAMPLE)
    window.show_page("run")
    wait(qtbot, window)
    return window.pages["run"]


def test_the_story_stands_on_top(page, window):
    # Recipe of the sample: modes at 3080 and 3190 r/min, range 4700 to 5300 r/min.
    words = page.headline.sentence.text()
    assert words.startswith("DE-X: critical speed 31")
    assert "amplification factor 7." in words
    assert "below the operating range" in words
    assert "asked for" in words
    assert "two close together" in page.headline.beside.full_text()
    assert "slow roll taken off at 606 r/min" in page.bode.note.full_text()
    marks = page.view().criticals
    assert [mark.probe for mark in marks] == ["DE-X", "DE-Y"]
    assert all(2900 < mark.critical.speed_rpm < 3400 for mark in marks)


def test_lists_tell_figures_doubts_and_what_is_no_order(page, window):
    rows = page.lists.criticals.rows
    assert [row.cells[0] for row in rows][:2] == ["DE-X", "DE-Y"]
    assert sum(row.cells[0].startswith("Drive end along") for row in rows) == 2
    assert "Doubt:" in rows[0].details
    found = page.lists.components.rows
    assert any(row.cells[1] == "forward, 0.46 of speed" for row in found)
    whirl = next(row for row in found if row.cells[1] == "forward, 0.46 of speed")
    assert "Apart from what was measured" in whirl.details
    page.lists.components.table.itemClicked.emit(
        page.lists.components.table.item(found.index(whirl), 0)
    )
    assert 60.0 < window.session.moment.moment_s < 100.0


def test_lists_do_not_scroll_sideways_and_tell_what_has_no_room(qtbot, page, window):
    for leaf, rows in (("components", page.lists.components), ("criticals", page.lists.criticals)):
        page.lists.show_leaf(leaf)
        qtbot.waitUntil(rows.table.isVisible)
        assert rows.table.horizontalScrollBar().maximum() == 0
    criticals = page.lists.criticals
    heads = [criticals.table.horizontalHeaderItem(k).text() for k in range(10)]
    hidden = {head for k, head in enumerate(heads) if criticals.table.isColumnHidden(k)}
    assert "Half-power" in hidden  # 1280 pixels
    assert f"Half-power {criticals.rows[0].cells[8]}." in criticals.details.text()
    assert "Half-power" in criticals.copy()
    window.resize(1900, 1000)
    qtbot.waitUntil(lambda: not criticals.table.isColumnHidden(8))
    assert "Half-power" not in criticals.details.text()


def test_a_press_on_amplitude_polar_or_cascade_moves_the_moment(qtbot, page, window):
    moment = window.session.moment
    trace = page.view().traces[0]
    index = int(np.argmin(np.abs(trace.speed_rpm - 2600.0)))
    points = {
        page.bode.amplitude: (2600.0, abs(trace.vectors[index])),
        page.cascade: (0.5, 4000.0),
    }
    placed = page.path.polar._view.placed("DE-X", trace.vectors[index : index + 1])[0]
    points[page.path.polar] = (placed.real, placed.imag)
    for plot, (x, y) in points.items():
        moment.set(5.0)
        at = plot.canvas.to_pixels(float(x), float(y)).toPoint()
        QTest.mouseClick(plot.canvas.viewport(), Qt.MouseButton.LeftButton, pos=at)
        assert moment.moment_s > 20.0, type(plot).__name__
        speed = window.session.speed_at_moment()
        assert speed == pytest.approx(4000.0 if plot is page.cascade else 2600.0, rel=0.02)
    assert page.bode.amplitude.marked()


def test_marks_follow_the_moment_and_axes_stay(qtbot, page, window):
    plots = (page.bode.amplitude, page.bode.phase, page.path.polar, page.cascade)
    before = [plot.canvas.box.viewRange() for plot in plots]
    window.session.moment.set(39.5)
    first = page.bode.amplitude.canvas.over.rules[-1].line
    window.session.moment.set(52.0)
    assert page.bode.amplitude.canvas.over.rules[-1].line != first
    assert [plot.canvas.box.viewRange() for plot in plots] == before


def test_a_typed_slow_roll_is_taken_off_and_told(qtbot, page, window):
    choice = window.session.run_choice
    before = page.view().criticals[0].critical.amplitude_um_pp
    vectors = {("DE-X", 1): vector_from(20.0, 341.5), ("DE-Y", 1): vector_from(0.0, 0.0)}
    choice.set_slow_roll(vectors=vectors)
    wait(qtbot, window)
    assert "DE-X 20.0 ∠ 342°" in page.bode.note.full_text()  # half to even would say 341
    after = page.view().criticals[0].critical.amplitude_um_pp
    # 20 µm at 161.5° + 180°, against the peak: it grows by nearly as much, less the 4.8 µm proposed
    assert after - before == pytest.approx(20.0 + 4.8 * np.cos(np.radians(212 - 161.5)), abs=1.5)
    choice.set_slow_roll(take_off=False)
    wait(qtbot, window)
    assert page.bode.note.full_text() == "slow roll not taken off"


def test_what_is_typed_comes_out_in_the_order_and_unit_shown(qtbot, page, window):
    unit = window.session.unit.unit
    dialog = SlowRollDialog(2, {"DE-X": 4.0 + 0j, "DE-Y": None}, unit)
    qtbot.addWidget(dialog)
    dialog.fields["DE-X"][1].set_number(90.0)
    found = dialog.vectors()
    assert found["DE-X", 2] == pytest.approx(-4.0j)
    assert found["DE-Y", 2] == 0.0


def test_vectors_that_are_kept_in_the_setup_come_back(page, window):
    session = window.session
    off = {n: (r.slow_roll,) for n, r in session.run.result.responses.items()}
    kept = setup_with(session.capture.setup, off)
    again, _ = parse_setup(updated_toml(session.capture.capture.setup_toml, kept), "kept")
    [entry] = again.probe_named("DE-X").slow_roll
    assert vector_from(entry.um_pp, entry.lag_deg) == pytest.approx(off["DE-X"][0].vector, abs=2e-3)
    assert entry.rpm == pytest.approx(606.2, abs=0.1)
    assert again.probe_named("THR-A").slow_roll == ()


def test_another_order_has_amplitudes_and_no_critical_speeds(qtbot, page, window):
    window.session.run_choice.set(order=2)
    wait(qtbot, window)
    assert page.view().order == 2
    assert page.view().criticals == ()
    assert page.bode.amplitude.title() == "2X against speed"
    assert "another order" in page.headline.beside.full_text()


def test_the_order_filter_gives_the_same_peak_and_tells_its_width(qtbot, page, window):
    before = page.view().criticals[0].critical
    window.session.run_choice.set(bandwidth_hz=4.0)
    wait(qtbot, window)
    after = page.view().criticals[0].critical
    assert after.speed_rpm == pytest.approx(before.speed_rpm, rel=0.005)
    assert after.amplitude_um_pp == pytest.approx(before.amplitude_um_pp, rel=0.02)
    assert any("bandwidth 4 Hz" in text for text in window.session.run.response.notices)
    assert "order filter, 4 Hz wide" in page.bode.note.full_text()


def test_the_same_run_laid_over_itself_differs_by_nothing(qtbot, page, window):
    window.session.laid_over.lay(SAMPLE)
    qtbot.waitUntil(lambda: bool(window.session.laid_over.overlays), timeout=TIMEOUT_MS)
    wait(qtbot, window)
    assert page.view().others
    assert page.view().other_name == SAMPLE.name
    overlay = window.session.laid_over.overlays["DE-X"]
    assert np.abs(overlay.difference).max() < 1e-6
    page.lists.show_leaf("difference")
    assert page.lists.difference.finding().startswith("1X of ")
    assert "not significant" in page.lists.difference.finding()
    window.session.run_choice.set(order=2)
    assert not window.session.laid_over.overlays  # those of 1X are not taken for others
    qtbot.waitUntil(lambda: bool(window.session.laid_over.overlays), timeout=TIMEOUT_MS)
    wait(qtbot, window)
    assert page.lists.difference.finding().startswith("2X of ")
    overlay = window.session.laid_over.overlays["DE-X"]
    assert np.abs(overlay.difference).max() < 1e-6
    assert np.nanmax(np.abs(overlay.second)) < 30.0  # 1X goes up to 130 µm p-p
    window.session.laid_over.clear()
    assert not window.session.laid_over.overlays


def test_an_unlike_table_is_laid_over_and_told(qtbot, page, window, tmp_path):
    # One mode in closed form (Jeffcott 1919), of a probe that is here and one that is not.
    speed = np.linspace(900.0, 4200.0, 220)
    r = speed / 2900.0
    vectors = 12.0 * r**2 / (1 - r**2 + 0.14j * r) + 3.0
    rows = [
        f"{n:.2f},{abs(v):.4f},{np.degrees(-np.angle(v)) % 360:.3f},1.0,0.0"
        for n, v in zip(speed, vectors, strict=True)
    ]
    path = tmp_path / "last.csv"
    head = "speed_rpm,DE-X.1x_um_pp,DE-X.1x_deg,OLD.1x_um_pp,OLD.1x_deg"
    path.write_text("\n".join([head, *rows]))
    laid = window.session.laid_over
    laid.lay(path)
    qtbot.waitUntil(lambda: bool(laid.overlays), timeout=TIMEOUT_MS)
    wait(qtbot, window)
    page.lists.show_leaf("difference")
    assert list(laid.overlays) == ["DE-X"]
    assert "vectors of DE-Y, NDE-X, NDE-Y in last.csv" in page.lists.remarks.text()
    assert "OLD in this run" in page.lists.remarks.text()
    assert "last.csv: slow roll" in page.bode.note.full_text()
    assert "nothing is known of the operating range" in page.lists.difference.finding()
    # The other run is compared as this one is: with slow roll on both or on neither.
    window.session.run_choice.set_slow_roll(take_off=False)
    wait(qtbot, window)
    assert "slow roll is taken off one" not in page.lists.remarks.text()
    assert page.path.polar._pool[0].getData()[0] is not None
    assert len(page.path.polar._pool[0].getData()[0]) > 100


def test_cascade_over_time_in_hz_of_one_probe(qtbot, page, window):
    window.session.run_choice.set_cascade(of="NDE-X", over="time", frequency="hz")
    wait(qtbot, window)
    name, made = window.session.cascade.cascade
    assert name == "NDE-X"
    assert (made.axis, made.against, made.two_sided) == ("hz", "time", False)
    assert page.cascade.canvas.left_axis.text() == "time, s"


def test_a_page_that_is_not_shown_asks_for_nothing(qtbot, window):
    window.session.open(SAMPLE)
    qtbot.waitUntil(lambda: window.session.timeline.complete, timeout=TIMEOUT_MS)
    qtbot.waitUntil(window.session.runner.is_idle, timeout=TIMEOUT_MS)
    assert window.session.run.result is None
    assert window.session.run.response is None
    assert window.session.cascade.cascade is None


def test_a_table_of_vectors_opens_here(qtbot, window, tmp_path):
    # One mode in closed form (Jeffcott 1919), natural 2000 r/min, damping 0.05, uneven in speed:
    # peak at 2000 / sqrt(1 - 2 ζ²) = 2005 r/min, half-power factor 9.90 (facts of the closed form).
    rng = np.random.default_rng(5)
    speed = np.sort(rng.uniform(700.0, 3600.0, 260))
    r = speed / 2000.0
    vectors = 10.0 * r**2 / (1 - r**2 + 0.1j * r)
    window.session.open(write_vector_table(tmp_path / "vectors.csv", speed, vectors))
    wait(qtbot, window)
    page = window.pages["run"]
    assert window.stack.currentWidget() is page or page.isVisible()
    [critical] = window.session.run.response.probes["BRG"].criticals
    assert critical.speed_rpm == pytest.approx(2005.0, rel=0.006)
    assert critical.amplification_factor == pytest.approx(9.90, rel=0.06)
    assert page.headline.sentence.text().startswith("BRG: critical speed 20")
    assert "has no waveforms" in page.cascade.empty_text()
    assert page.view().axis == "speed"


def test_without_a_phase_reference_the_page_says_what_to_do(qtbot, window, tmp_path, bare_path):
    from analysis.model.setup import Setup

    window.session.open(bare_path)
    qtbot.waitUntil(lambda: window.session.capture.capture is not None, timeout=TIMEOUT_MS)
    probe = {"name": "DE-X", "scale_factor_mv_per_um": 7.874, "angle_deg": 45.0}
    window.session.opener.use_setup(
        Setup.model_validate({"version": 1, "machine": {"rotation": "ccw"}, "probe": [probe]})
    )
    window.show_page("run")
    qtbot.waitUntil(lambda: window.session.run.phase == "unphased", timeout=TIMEOUT_MS)
    qtbot.waitUntil(window.session.runner.is_idle, timeout=TIMEOUT_MS)
    qtbot.waitUntil(window.pages["run"].is_settled, timeout=TIMEOUT_MS)
    assert "phase_reference" in window.pages["run"].bode.amplitude.empty_text()


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_pictures_of_the_page(qtbot, page, window, theme, tmp_path):
    window.session.theme.set(theme)
    window.session.moment.set(39.52)
    wait(qtbot, window)
    folder = Path(os.environ.get("RUNTRUE_SCREENSHOTS", tmp_path))
    folder.mkdir(parents=True, exist_ok=True)
    picture = window.grab()
    assert picture.save(str(folder / f"window-run-{theme}.png"))
    ground = picture.toImage().pixelColor(page.mapTo(window, page.rect().center()))
    assert (ground.lightness() > 128) is (theme == "light")
    assert page.bode.amplitude.theme() is style.Theme(theme)

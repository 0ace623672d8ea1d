"""Opening captures and setups in the real window, and what it says when that fails."""

from __future__ import annotations

import threading
from pathlib import Path

import pytest
from PySide6.QtCore import QMimeData, QPointF, Qt, QUrl
from PySide6.QtGui import QDropEvent

from analysis.files.csv_write import write_csv
from analysis.files.hdf5_write import write_hdf5
from app.dialogs.import_dialog import ImportDialog
from app.main_window import MainWindow

from .conftest import settled
from .made_capture import SETUP, made_capture

TIMEOUT_MS = 20_000

# Qt's off-screen platform says this of every dialog.
pytestmark = pytest.mark.qt_log_ignore("does not support propagateSizeHints")


def banner_text(window: MainWindow) -> str:
    return "\n".join(window.banner.texts())


def wait_open(qtbot, window: MainWindow) -> None:
    qtbot.waitUntil(lambda: window.session.capture.phase == "ready", timeout=TIMEOUT_MS)
    qtbot.waitUntil(lambda: settled(window.session), timeout=TIMEOUT_MS)


def drop(window: MainWindow, path: Path) -> None:
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(path))])
    window.dropEvent(
        QDropEvent(
            QPointF(50, 50),
            Qt.DropAction.CopyAction,
            data,
            Qt.MouseButton.LeftButton,
            Qt.KeyboardModifier.NoModifier,
        )
    )


def test_nothing_open_says_what_to_do(window):
    assert "Open a capture" in window.start.title.text()
    assert window.stack.currentWidget() is window.start
    assert window.start.open.isVisible()
    assert not window.banner.isVisible()


def test_an_opened_capture_shows_every_part(opened):
    assert opened.stack.currentWidget() is opened.pages["moment"]
    assert [card.probe.name for card in opened.probes.cards] == ["DE-X", "DE-Y", "NDE-X", "NDE-Y"]
    assert all(not plot.is_empty() for plot in opened.pages["moment"].plots())
    assert not opened.timeline.plot.is_empty()
    assert "steady.h5" in opened.windowTitle()
    assert opened.header._title.text() == "Brine pump P-204"
    facts = opened.header._facts.full_text()
    assert facts == "Steady stretch · 2 planes · phase reference · 6 s"
    assert not opened.banner.isVisible()


def test_the_readings_in_the_window_are_true(qtbot, opened):
    """The made capture: 80 µm p-p with a lag of 30° about 1250 µm at 1500 r/min, 200 mV/mil."""
    opened.session.moment.set(1.0)
    qtbot.waitUntil(lambda: settled(opened.session), timeout=TIMEOUT_MS)
    texts = opened.probes.cards[0].texts
    assert texts.gap == "1250 µm"
    assert texts.gap_v == "−9.84 V"
    assert texts.pp == "80.0 µm"
    assert texts.first_order == "80.0 ∠ 30°"
    assert opened.probes.speed.accessibleName().startswith("Speed 1500 r/min at 1.00 s")


def test_a_wrong_file_is_told_in_the_window(qtbot, window, tmp_path):
    path = tmp_path / "broken.h5"
    path.write_bytes(b"this is no capture" * 40)
    window.session.open(path)
    qtbot.waitUntil(lambda: window.banner.isVisible(), timeout=TIMEOUT_MS)
    assert "broken.h5 could not be opened" in banner_text(window)
    assert "HDF5" in banner_text(window)
    assert window.session.capture.phase == "failed"
    assert "broken.h5 is not open" in window.start.title.text()


def test_a_missing_file_is_told(qtbot, window, tmp_path):
    window.session.open(tmp_path / "gone.h5")
    qtbot.waitUntil(lambda: window.banner.isVisible(), timeout=TIMEOUT_MS)
    assert "gone.h5" in banner_text(window)


def test_a_wrong_file_leaves_the_open_capture_in_place(qtbot, opened, tmp_path):
    path = tmp_path / "broken.h5"
    path.write_bytes(b"nothing")
    before = opened.session.capture.capture
    opened.session.open(path)
    qtbot.waitUntil(lambda: opened.banner.isVisible(), timeout=TIMEOUT_MS)
    assert opened.session.capture.capture is before
    assert opened.stack.currentWidget() is opened.pages["moment"]


def test_the_banner_goes_when_dismissed_or_when_the_next_file_opens(
    qtbot, window, tmp_path, capture_path
):
    window.session.open(tmp_path / "gone.h5")
    qtbot.waitUntil(lambda: window.banner.isVisible(), timeout=TIMEOUT_MS)
    window.session.open(capture_path)
    wait_open(qtbot, window)
    assert not window.banner.isVisible()


def test_all_errors_of_a_setup_are_told_at_once(qtbot, window, tmp_path, bare_path):
    setup = tmp_path / "pump.toml"
    setup.write_text(
        SETUP.replace("scale_factor_mv_per_mil = 200", "scale_factor_mv_per_mil = 0", 1).replace(
            'probes = ["NDE-X", "NDE-Y"]', 'probes = ["NDE-X", "NDE-Z"]'
        )
    )
    window.session.open(bare_path, setup)
    wait_open(qtbot, window)
    text = banner_text(window)
    assert "pump.toml" in text
    assert "scale_factor" in text
    assert "NDE-Z" in text
    assert "2 errors" in text
    assert window.start.describe.isVisible()


def test_a_bad_setup_does_not_replace_a_good_one(qtbot, opened, tmp_path):
    setup = tmp_path / "bad.toml"
    setup.write_text("version = 1\n[machine]\nrotation = 'sideways'\n")
    before = opened.session.capture.setup
    opened.session.open(setup)
    qtbot.waitUntil(lambda: opened.banner.isVisible(), timeout=TIMEOUT_MS)
    assert "sideways" in banner_text(opened) or "rotation" in banner_text(opened)
    assert opened.session.capture.setup is before
    assert opened.session.capture.phase == "ready"


def test_a_dropped_capture_opens(qtbot, window, capture_path):
    drop(window, capture_path)
    wait_open(qtbot, window)
    assert window.session.capture.capture.path == capture_path


def test_a_dropped_setup_is_the_open_captures(qtbot, window, bare_path, tmp_path):
    window.session.open(bare_path)
    wait_open(qtbot, window)
    assert window.session.capture.setup is None
    setup = tmp_path / "pump.toml"
    setup.write_text(SETUP)
    drop(window, setup)
    qtbot.waitUntil(lambda: window.session.reader.result is not None, timeout=TIMEOUT_MS)
    assert window.session.capture.opened.setup_source == "pump.toml"
    assert window.stack.currentWidget() is window.pages["moment"]


def test_a_setup_without_a_capture_says_what_to_do(qtbot, window, tmp_path):
    setup = tmp_path / "pump.toml"
    setup.write_text(SETUP)
    drop(window, setup)
    assert "Open the capture first" in banner_text(window)


def test_recent_files(qtbot, window, capture_path, bare_path):
    assert not window.header.recent_button.isEnabled()
    for path in (capture_path, bare_path):
        window.session.open(path)
        wait_open(qtbot, window)
    actions = window.header.recent_button.menu().actions()
    assert [a.text() for a in actions[:2]] == ["bare.h5", "steady.h5"]
    actions[1].trigger()
    wait_open(qtbot, window)
    assert window.session.capture.capture.path == capture_path
    assert window.session.settings.recent[0] == capture_path


def test_opening_can_be_cancelled_and_the_newest_wins(qtbot, window, capture_path, monkeypatch):
    import app.session.opening as opening

    entered, go = threading.Event(), threading.Event()
    real = opening.open_all

    def slow(path, setup_path, layout, progress):
        if path.name == "slow.h5":
            progress.report(0.25, "reading the first part")
            entered.set()
            assert go.wait(10)
            progress.report(0.5, "reading the second part")
        return real(path, setup_path, layout, progress)

    monkeypatch.setattr(opening, "open_all", slow)
    window.session.open(Path("slow.h5"))
    assert entered.wait(10)
    qtbot.waitUntil(lambda: window.start.text.text() == "reading the first part")
    assert window.start.bar.value() == 250
    assert window.start.cancel.isVisible()
    qtbot.waitUntil(lambda: "slow.h5" in window.jobs.text)  # the strip shows what lasts
    qtbot.mouseClick(window.start.cancel, Qt.MouseButton.LeftButton)
    assert window.session.capture.phase == "empty"
    go.set()
    qtbot.waitUntil(window.session.runner.is_idle)
    assert window.session.capture.phase == "empty"
    window.session.open(Path("slow.h5"))
    window.session.open(capture_path)
    wait_open(qtbot, window)
    assert window.session.capture.capture.name == "steady.h5"


def test_closing_in_the_middle_of_a_load(qtbot, window, monkeypatch):
    import app.session.opening as opening

    entered = threading.Event()

    def endless(path, setup_path, layout, progress):
        entered.set()
        while True:
            progress.report(0.5, "reading")

    monkeypatch.setattr(opening, "open_all", endless)
    window.session.open(Path("big.h5"))
    assert entered.wait(10)
    window.close()
    assert not [t for t in threading.enumerate() if t.name.startswith("job")]


def test_closing_in_the_middle_of_the_pass(qtbot, window, capture_path, monkeypatch):
    import analysis.views.timeline as answers

    entered = threading.Event()

    def endless(capture, setup, *, speed_rpm, progress, partial, cache):
        entered.set()
        while True:
            progress.report(0.5, "reading")

    monkeypatch.setattr(answers, "answer_timeline", endless)
    window.session.open(capture_path)
    qtbot.waitUntil(entered.is_set, timeout=TIMEOUT_MS)
    window.close()
    assert not [t for t in threading.enumerate() if t.name.startswith("job")]


def test_the_pass_can_be_stopped_and_taken_up_again(qtbot, window, capture_path, monkeypatch):
    import analysis.views.timeline as answers

    entered = threading.Event()
    real = answers.answer_timeline

    def endless(capture, setup, *, speed_rpm, progress, partial, cache):
        entered.set()
        while True:
            progress.report(0.5, "reading")

    monkeypatch.setattr(answers, "answer_timeline", endless)
    window.session.open(capture_path)
    qtbot.waitUntil(lambda: "Pass over the capture" in window.jobs.text, timeout=TIMEOUT_MS)
    qtbot.mouseClick(window.jobs.cancel_button(), Qt.MouseButton.LeftButton)
    qtbot.waitUntil(window.session.runner.is_idle)
    assert window.timeline.resume.isVisible()
    monkeypatch.setattr(answers, "answer_timeline", real)
    qtbot.mouseClick(window.timeline.resume, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: window.session.timeline.complete, timeout=TIMEOUT_MS)
    assert not window.timeline.resume.isVisible()


def test_a_capture_without_a_setup_says_what_to_do_next(qtbot, window, bare_path):
    window.session.open(bare_path)
    wait_open(qtbot, window)
    assert "5 channels" in window.start.title.text()
    assert window.start.describe.isVisible()
    assert window.start.setup.isVisible()
    assert not window.banner.isVisible()


def test_a_csv_of_the_contract_opens_at_once(qtbot, window, tmp_path):
    path = tmp_path / "few.csv"
    write_csv(path, made_capture(length_s=0.2, setup=None))
    (tmp_path / "few.toml").write_text(SETUP)
    window.session.open(path)
    wait_open(qtbot, window)
    assert window.session.capture.opened.setup_source == "few.toml"


@pytest.fixture
def other_csv(tmp_path: Path) -> Path:
    path = tmp_path / "other.csv"
    rows = [f"{i * 0.2:.1f};{-9800 - i % 50};ok".replace(".", ",") for i in range(500)]
    path.write_text("Larkfell export\n\nTime;X probe;note\nms;mV;\n" + "\n".join(rows) + "\n")
    return path


def test_a_csv_of_another_layout_opens_the_import_dialog(qtbot, window, other_csv):
    window.session.open(other_csv)
    qtbot.waitUntil(lambda: bool(window.findChildren(ImportDialog)), timeout=TIMEOUT_MS)
    dialog = window.findChildren(ImportDialog)[0]
    qtbot.waitUntil(lambda: dialog.open_button.isEnabled(), timeout=TIMEOUT_MS)
    assert "other.csv" in banner_text(window)
    layout = dialog.layout_said()
    assert (layout.separator, layout.decimal, layout.time_column) == (";", ",", "Time")
    assert [(c.name, c.unit) for c in layout.columns] == [("X probe", "mV")]
    dialog._columns[1].channel.setText("DE_X")
    qtbot.waitUntil(lambda: settled(window.session), timeout=TIMEOUT_MS)
    qtbot.mouseClick(dialog.open_button, Qt.MouseButton.LeftButton)
    wait_open(qtbot, window)
    capture = window.session.capture.capture
    assert list(capture.channels) == ["DE_X"]
    channel = capture.channels["DE_X"]
    assert channel.sample_rate_hz == pytest.approx(5000.0)
    assert channel.volts(0, 2) == pytest.approx([-9.8, -9.801])
    assert not window.banner.isVisible()


def test_the_import_preview_follows_what_is_said(qtbot, window, other_csv):
    window.session.open(other_csv)
    qtbot.waitUntil(lambda: bool(window.findChildren(ImportDialog)), timeout=TIMEOUT_MS)
    dialog = window.findChildren(ImportDialog)[0]
    qtbot.waitUntil(lambda: dialog.open_button.isEnabled(), timeout=TIMEOUT_MS)
    dialog._columns[1].use.setCurrentIndex(2)  # leave out the only channel
    qtbot.waitUntil(lambda: not dialog.open_button.isEnabled(), timeout=TIMEOUT_MS)
    assert dialog.problems.text()
    dialog._columns[1].use.setCurrentIndex(0)
    qtbot.waitUntil(lambda: dialog.open_button.isEnabled(), timeout=TIMEOUT_MS)
    dialog.reject()


def test_the_old_capture_is_let_go(qtbot, window, tmp_path, capture_path):
    first = tmp_path / "first.h5"
    write_hdf5(first, made_capture(length_s=1.0))
    window.session.open(first)
    wait_open(qtbot, window)
    old = window.session.capture.capture
    window.session.open(capture_path)
    qtbot.waitUntil(
        lambda: window.session.capture.capture is not old and settled(window.session),
        timeout=TIMEOUT_MS,
    )
    assert window.session.capture.capture.path == capture_path


def test_a_probe_without_a_channel_says_so(qtbot, window, tmp_path):
    path = tmp_path / "gone.h5"
    gone = '[[probe]]\nname = "GONE"\nangle_deg = 10\nscale_factor_mv_per_mil = 200\n\n[[probe]]'
    write_hdf5(path, made_capture(setup=SETUP.replace("[[probe]]", gone, 1)))
    window.session.open(path)
    wait_open(qtbot, window)
    qtbot.waitUntil(lambda: window.session.timeline.complete, timeout=TIMEOUT_MS)
    qtbot.waitUntil(lambda: settled(window.session), timeout=TIMEOUT_MS)
    assert window.probes.cards[0].texts.state == "no channel"
    assert window.timeline.probe() == "DE-X"
    assert "GONE" in window.pages["moment"].readings.notices.full_text()


def test_a_moment_that_cannot_be_read_is_told(qtbot, opened, monkeypatch):
    import analysis.views.moment as answers

    def bad(*_args):
        raise RuntimeError("the disk went away")

    monkeypatch.setattr(answers, "answer_moment", bad)
    before = opened.session.reader.result
    opened.session.moment.set(1.0)
    qtbot.waitUntil(lambda: opened.banner.isVisible(), timeout=TIMEOUT_MS)
    assert "The moment 1.00 s could not be read" in banner_text(opened)
    assert "the disk went away" in banner_text(opened)
    assert opened.session.reader.result is before
    monkeypatch.undo()
    opened.session.moment.set(2.0)
    qtbot.waitUntil(lambda: not opened.banner.isVisible(), timeout=TIMEOUT_MS)


def test_a_spectrum_that_can_be_had_is_chosen(qtbot, window, tmp_path):
    """One probe, no reference: neither two sides nor orders can be had."""
    path = tmp_path / "one.h5"
    setup = 'version = 1\n[[probe]]\nname = "DE-X"\nscale_factor_mv_per_mil = 200\n'
    write_hdf5(path, made_capture(setup=setup, reference=False))
    window.session.open(path)
    wait_open(qtbot, window)
    qtbot.waitUntil(lambda: window.session.reader.result is not None, timeout=TIMEOUT_MS)
    spectrum = window.session.reader.result.spectrum
    assert (spectrum.axis, spectrum.two_sided) == ("hz", False)
    page = window.pages["moment"]
    assert not page.orbit.isVisible()
    assert not page.waveforms[1].isVisible()
    assert page.waveforms[0].isVisible()

"""Driving the Moment page in the real window: moment, units, theme, choices, copy."""

from __future__ import annotations

import sys

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from analysis.model.span import TimeSpan
from analysis.model.units import LengthUnit
from app.dialogs.channels_dialog import ChannelsDialog
from app.plots import style
from app.session.faults import FaultCatcher
from app.session.notices import NoticeState
from app.widgets.words import parse_time

from .conftest import settled
from .made_capture import PP_UM, RPM, SWELL_AT_S

TIMEOUT_MS = 20_000
TURN_S = 60.0 / RPM

pytestmark = pytest.mark.qt_log_ignore("does not support propagateSizeHints")


def wait(qtbot, window):
    qtbot.waitUntil(lambda: settled(window.session), timeout=TIMEOUT_MS)


def at_time(window, time_s: float) -> QPoint:
    """Where a time lies on the timeline, in pixels of its canvas."""
    point = window.timeline.plot.canvas.to_pixels(time_s, 0.0)
    return QPoint(round(point.x()), window.timeline.plot.canvas.height() // 2)


def drag(window, start_s, end_s, modifier=Qt.KeyboardModifier.NoModifier):
    viewport = window.timeline.plot.canvas.viewport()
    left = Qt.MouseButton.LeftButton
    QTest.mousePress(viewport, left, modifier, at_time(window, start_s))
    for share in (0.25, 0.5, 0.75, 1.0):
        QTest.mouseMove(viewport, at_time(window, start_s + share * (end_s - start_s)))
        QApplication.processEvents()
    QTest.mouseRelease(viewport, left, modifier, at_time(window, end_s))


def test_dragging_moves_the_moment_for_every_view(qtbot, opened):
    drag(opened, 1.0, 4.5)
    assert opened.session.moment.moment_s == pytest.approx(4.5, abs=0.05)
    wait(qtbot, opened)
    result = opened.session.reader.result
    assert result.request.moment_s == opened.session.moment.moment_s
    assert opened.pages["moment"].waveforms[0]._view.waveform is result.waveforms["DE-X"]
    shown = f"{opened.session.moment.moment_s:.3f}"
    qtbot.waitUntil(lambda: opened.timeline.field.text() == shown)  # figures come at a calm pace
    subtitle = opened.pages["moment"].readings.card._subtitle.text()
    assert subtitle.startswith(f"{opened.session.moment.moment_s:.2f} s · 1500 r/min")


def test_shift_dragging_chooses_a_span_and_escape_drops_it(qtbot, opened):
    before = opened.session.moment.moment_s
    drag(opened, 1.0, 3.0, Qt.KeyboardModifier.ShiftModifier)
    span = opened.session.span.span
    assert (span.start_s, span.end_s) == pytest.approx((1.0, 3.0), abs=0.05)
    assert opened.session.moment.moment_s == before
    assert opened.timeline.clear_span.isVisible()
    qtbot.keyClick(opened, Qt.Key.Key_Escape)
    assert opened.session.span.span is None
    opened.session.span.set(TimeSpan(1.0, 2.0))
    qtbot.mouseClick(opened.timeline.clear_span, Qt.MouseButton.LeftButton)
    assert opened.session.span.span is None


@pytest.mark.parametrize(
    ("key", "modifier", "moved_s"),
    [
        (Qt.Key.Key_Right, Qt.KeyboardModifier.NoModifier, TURN_S),
        (Qt.Key.Key_Left, Qt.KeyboardModifier.NoModifier, -TURN_S),
        (Qt.Key.Key_Right, Qt.KeyboardModifier.ShiftModifier, 10 * TURN_S),
        (Qt.Key.Key_Left, Qt.KeyboardModifier.ShiftModifier, -10 * TURN_S),
        (Qt.Key.Key_Right, Qt.KeyboardModifier.ControlModifier, 1.0),
        (Qt.Key.Key_Left, Qt.KeyboardModifier.AltModifier, -1.0),
        (Qt.Key.Key_PageDown, Qt.KeyboardModifier.NoModifier, 0.3),
        (Qt.Key.Key_PageUp, Qt.KeyboardModifier.NoModifier, -0.3),
        (Qt.Key.Key_Home, Qt.KeyboardModifier.NoModifier, -3.0),
        (Qt.Key.Key_End, Qt.KeyboardModifier.NoModifier, 3.0),
    ],
)
def test_keys_step_the_moment(qtbot, opened, key, modifier, moved_s):
    opened.session.moment.set(3.0)
    opened.timeline.plot.setFocus()
    qtbot.keyClick(opened.timeline.plot, key, modifier)
    assert opened.session.moment.moment_s == pytest.approx(3.0 + moved_s, rel=1e-3)


def test_keys_step_from_a_probe_card_too(qtbot, opened):
    opened.session.moment.set(3.0)
    opened.probes.cards[1].setFocus()
    qtbot.keyClick(opened.probes.cards[1], Qt.Key.Key_Right)
    assert opened.session.moment.moment_s == pytest.approx(3.0 + TURN_S, rel=1e-3)


def test_p_goes_to_the_largest_pp(qtbot, opened):
    opened.timeline.plot.setFocus()
    qtbot.keyClick(opened.timeline.plot, Qt.Key.Key_P)
    assert opened.session.moment.moment_s == pytest.approx(SWELL_AT_S, abs=2 * TURN_S)


@pytest.mark.parametrize(
    ("text", "moment_s"), [("2.5", 2.5), ("2,5", 2.5), ("0:02.5", 2.5), ("2.5 s", 2.5), ("99", 6.0)]
)
def test_a_typed_moment(qtbot, opened, text, moment_s):
    qtbot.keyClick(opened, Qt.Key.Key_G)
    assert opened.timeline.field.hasFocus()
    qtbot.keyClicks(opened.timeline.field, text)
    qtbot.keyClick(opened.timeline.field, Qt.Key.Key_Return)
    assert opened.session.moment.moment_s == moment_s
    assert opened.timeline.field.text() == f"{moment_s:.3f}"


def test_a_mistyped_moment_is_marked_and_moves_nothing(qtbot, opened):
    before = opened.session.moment.moment_s
    opened.timeline.focus_field()
    qtbot.keyClicks(opened.timeline.field, "soon")
    qtbot.keyClick(opened.timeline.field, Qt.Key.Key_Return)
    assert opened.session.moment.moment_s == before
    assert opened.timeline.field.property("invalid") == "true"


def test_keys_in_the_field_edit_it_and_do_not_step(qtbot, opened):
    opened.session.moment.set(3.0)
    opened.timeline.focus_field()
    qtbot.keyClick(opened.timeline.field, Qt.Key.Key_Left)
    qtbot.keyClick(opened.timeline.field, Qt.Key.Key_Home)
    assert opened.session.moment.moment_s == 3.0


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("48.3", 48.3),
        ("48,3", 48.3),
        ("1:02.5", 62.5),
        ("1:00:02", 3602.0),
        (" 7 s", 7.0),
        ("−2", -2.0),
        ("", None),
        ("1:75", None),
        ("nan", None),
        ("later", None),
    ],
)
def test_times_as_people_type_them(text, seconds):
    assert parse_time(text) == seconds


def test_units_switch_everywhere_at_once(qtbot, opened):
    opened.session.moment.set(1.0)
    wait(qtbot, opened)
    page = opened.pages["moment"]
    qtbot.mouseClick(opened.header.units.button(LengthUnit.MIL), Qt.MouseButton.LeftButton)
    assert opened.session.unit.unit is LengthUnit.MIL
    assert all(plot.unit() is LengthUnit.MIL for plot in (*page.plots(), opened.timeline.plot))
    # 1250 µm are 49.21 mil, 80 µm are 3.15 mil
    assert opened.probes.cards[0].texts.gap == "49.21 mil"
    assert opened.probes.cards[0].texts.pp == "3.15 mil"
    model = page.readings.table.readings
    headings = [model.headerData(i, Qt.Orientation.Horizontal) for i in range(model.columnCount())]
    assert not [h for h in headings if "µm" in h]
    assert model.index(0, 1).data() == "49.21"
    assert all("µm" not in text for text in page.plane_strip.texts())
    assert opened.session.settings.unit is LengthUnit.MIL
    qtbot.keyClick(opened, Qt.Key.Key_U, Qt.KeyboardModifier.ControlModifier)
    assert opened.session.unit.unit is LengthUnit.UM
    assert opened.probes.cards[0].texts.gap == "1250 µm"


def test_the_theme_switches_live(qtbot, opened):
    page = opened.pages["moment"]
    qtbot.keyClick(opened, Qt.Key.Key_T, Qt.KeyboardModifier.ControlModifier)
    assert opened.session.theme.dark
    plots = (*page.plots(), opened.timeline.plot)
    assert all(plot.theme() is style.Theme.DARK for plot in plots)
    qtbot.waitUntil(opened.is_painted)
    ground = opened.grab().toImage().pixelColor(3, opened.height() // 2)
    assert ground.name() == style.palette(style.Theme.DARK).paper.lower()
    opened.session.theme.set("light")
    qtbot.waitUntil(opened.is_painted)
    ground = opened.grab().toImage().pixelColor(3, opened.height() // 2)
    assert ground.name() == style.palette(style.Theme.LIGHT).paper.lower()


def test_the_system_theme_is_followed(opened):
    opened.session.theme.set("system")
    opened.session.theme.set_system_dark(True)
    assert opened.timeline.plot.theme() is style.Theme.DARK
    opened.session.theme.set_system_dark(False)
    assert opened.timeline.plot.theme() is style.Theme.LIGHT


def test_choosing_a_probe_card_shows_its_plane(qtbot, opened):
    qtbot.mouseClick(opened.probes.cards[3], Qt.MouseButton.LeftButton)
    wait(qtbot, opened)
    result = opened.session.reader.result
    assert tuple(result.waveforms) == ("NDE-X", "NDE-Y")
    assert result.orbit.plane == "Non-drive end"
    assert opened.timeline.probe() == "NDE-Y"
    assert opened.pages["moment"].orbit_tools.planes.text().startswith("Non-drive end")


def test_any_two_probes_can_be_shown(qtbot, opened):
    tools = opened.pages["moment"].waveform_tools
    tools[0].probes.chosen.emit("NDE-Y")
    wait(qtbot, opened)
    assert tuple(opened.session.reader.result.waveforms) == ("NDE-Y", "DE-Y")
    tools[0].probes.chosen.emit("DE-Y")  # the other card's: they change places
    wait(qtbot, opened)
    assert tuple(opened.session.reader.result.waveforms) == ("DE-Y", "NDE-Y")


def test_orbit_and_spectrum_choices(qtbot, opened):
    page = opened.pages["moment"]
    page.orbit_tools.paths.chosen.emit("1X+2X")
    page.spectrum_tools.axis.chosen.emit("hz")
    page.spectrum_tools.sides.chosen.emit("NDE-X")
    page.spectrum_tools.scaling.chosen.emit("rms")
    page.spectrum_tools.window.chosen.emit("flat-top")
    wait(qtbot, opened)
    result = opened.session.reader.result
    assert page.orbit.paths() == "filtered"
    assert result.request.orbit_orders == (1, 2)
    spectrum = result.spectrum
    assert (spectrum.axis, spectrum.two_sided, spectrum.scaling, spectrum.window) == (
        "hz",
        False,
        "rms",
        "flat-top",
    )
    assert page.spectrum_tools.sides.text().startswith("NDE-X")


def test_more_turns_give_more_revolutions(qtbot, opened):
    opened.header.turns.chosen.emit(16.0)
    wait(qtbot, opened)
    assert opened.session.reader.result.readings.speed.revolutions == 32
    assert opened.header.turns.text().startswith("±16 rev")


def parsed(text: str) -> list[list[str]]:
    return [line.split("\t") for line in text.strip().split("\n\n")[0].split("\n")]


def test_copied_readings_parse_back(qtbot, opened):
    opened.session.moment.set(1.0)
    wait(qtbot, opened)
    opened.timeline.plot.setFocus()
    qtbot.keyClick(opened, Qt.Key.Key_C, Qt.KeyboardModifier.ControlModifier)
    text = QGuiApplication.clipboard().text()
    header, *rows = parsed(text)
    assert [row[0] for row in rows] == list(PP_UM)
    assert all(len(row) == len(header) for row in rows)
    pp = header.index("p-p (µm)")
    lag = header.index("1X lag (deg)")
    words = {header.index("state")}
    for row in rows:
        for place, cell in enumerate(row[1:], start=1):
            if place not in words and cell:
                float(cell)
        assert float(row[pp]) == pytest.approx(PP_UM[row[0]], rel=2e-3)
    assert float(rows[0][lag]) == pytest.approx(30.0, abs=0.1)
    assert "S max (µm)" in text
    assert "Drive end" in text


def test_a_selection_copies_alone_and_in_the_display_unit(qtbot, opened):
    opened.session.moment.set(1.0)
    opened.session.unit.set(LengthUnit.MIL)
    wait(qtbot, opened)
    table = opened.pages["moment"].readings.table
    table.setFocus()
    table.setCurrentIndex(table.readings.index(1, 2))
    qtbot.keyClick(table, Qt.Key.Key_C, Qt.KeyboardModifier.ControlModifier)
    header, row = parsed(QGuiApplication.clipboard().text())
    assert header == ["probe", "p-p (mil)", "p-p ± (mil)", "p-p largest (mil)"]
    assert row[0] == "DE-Y"
    assert float(row[1]) == pytest.approx(60.0 / 25.4, rel=2e-3)
    assert "," in opened.pages["moment"].readings.copy(",").splitlines()[1]


def test_tooltips_tell_the_uncertainty(opened):
    model = opened.pages["moment"].readings.table.readings
    tip = model.index(0, 2).data(Qt.ItemDataRole.ToolTipRole)
    assert "8 revolutions" in tip
    assert "scale-factor tolerance ±5 %" in tip
    assert "noise" in tip


def test_everything_that_acts_has_a_name(opened):
    from PySide6.QtWidgets import QAbstractButton, QLineEdit

    for kind in (QAbstractButton, QLineEdit):
        for widget in opened.findChildren(kind):
            if widget.isVisible() and not widget.objectName().startswith("qt_"):
                named = widget.accessibleName() or getattr(widget, "text", str)()
                assert named, f"{widget} has no name"
                assert widget.toolTip() or named, f"{widget} has no tooltip"


def test_describing_the_channels(qtbot, window, bare_path, tmp_path):
    window.session.open(bare_path)
    qtbot.waitUntil(lambda: window.session.capture.phase == "ready", timeout=TIMEOUT_MS)
    qtbot.mouseClick(window.start.describe, Qt.MouseButton.LeftButton)
    dialog = window.findChildren(ChannelsDialog)[0]
    roles = [row.role.currentData() for row in dialog.rows]
    assert roles == ["radial"] * 4 + ["reference"]
    assert [row.angle.text() for row in dialog.rows[:4]] == ["45", "-45", "45", "-45"]
    assert [row.plane.text() for row in dialog.rows[:4]] == ["DE", "DE", "NDE", "NDE"]
    qtbot.waitUntil(lambda: dialog.rows[0].mean.text() == "−9.84", timeout=TIMEOUT_MS)
    dialog.rows[1].plane.setText("")
    dialog.rows[0].scale.setText("many")
    qtbot.mouseClick(dialog.use, Qt.MouseButton.LeftButton)
    assert dialog.isVisible()
    assert "Plane DE" in dialog.problems.text()
    assert "DE-X: the scale factor" in dialog.problems.text()
    dialog.rows[1].plane.setText("DE")
    dialog.rows[0].scale.setText("200")
    dialog.unit.setCurrentIndex(1)
    assert dialog.rows[0].scale.text() == "7.874"
    qtbot.mouseClick(dialog.use, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: window.session.reader.result is not None, timeout=TIMEOUT_MS)
    setup = window.session.capture.setup
    assert setup.phase_reference.channel == "REF"
    assert [plane.probes for plane in setup.plane] == [("DE-X", "DE-Y"), ("NDE-X", "NDE-Y")]
    assert window.stack.currentWidget() is window.pages["moment"]


def test_the_described_setup_is_saved_only_on_request(qtbot, opened, tmp_path):
    from analysis.files.setup_read import read_setup
    from app.dialogs.describe import write_setup_to

    path = tmp_path / "pump.toml"
    write_setup_to(opened.session, opened.session.capture.setup, path)
    qtbot.waitUntil(path.exists, timeout=TIMEOUT_MS)
    wait(qtbot, opened)
    assert read_setup(path)[0] == opened.session.capture.setup
    assert "pump.toml" in "\n".join(opened.banner.texts())


def test_a_capture_without_a_reference_takes_a_speed(qtbot, window, tmp_path):
    from analysis.files.hdf5_write import write_hdf5

    from .made_capture import SETUP, made_capture

    path = tmp_path / "no_ref.h5"
    start, end = SETUP.index("[phase_reference]"), SETUP.index("[[probe]]")
    write_hdf5(path, made_capture(setup=SETUP[:start] + SETUP[end:], reference=False))
    window.session.open(path)
    qtbot.waitUntil(lambda: window.session.reader.result is not None, timeout=TIMEOUT_MS)
    field = window.pages["moment"].speed_field
    assert field.isVisible()
    assert "missing" in field.words.text()
    assert window.session.reader.result.readings.speed.kind == "blocks"
    qtbot.keyClicks(field.field, "fast")
    qtbot.keyClick(field.field, Qt.Key.Key_Return)
    assert field.field.property("invalid") == "true"
    field.field.clear()
    qtbot.keyClicks(field.field, "1500")
    qtbot.keyClick(field.field, Qt.Key.Key_Return)
    qtbot.waitUntil(
        lambda: window.session.reader.result.readings.speed.kind == "speed", timeout=TIMEOUT_MS
    )
    wait(qtbot, window)
    window.session.moment.set(1.0)
    wait(qtbot, window)
    vector = window.session.reader.result.readings.probes["DE-X"].vectors[1]
    assert vector.amplitude.value == pytest.approx(80.0, rel=5e-3)
    assert vector.phase_lag_deg is None


def test_a_fault_in_a_slot_shows_in_the_window(qtbot, qapp):
    notices = NoticeState()
    catcher = FaultCatcher(notices)
    told = []
    former, sys.excepthook = sys.excepthook, lambda *args: told.append(args)
    try:
        catcher.install()
        try:
            raise ZeroDivisionError("in a slot")
        except ZeroDivisionError:
            sys.excepthook(*sys.exc_info())
        catcher.remove()
    finally:
        sys.excepthook = former
    qtbot.waitUntil(lambda: bool(notices.all))
    assert "fault of the program" in notices.all[0].text
    assert "ZeroDivisionError" in notices.all[0].details
    assert told

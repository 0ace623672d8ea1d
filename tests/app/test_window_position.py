"""The Position page in the window, with the real numbers and real mouse and keys."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtCore import QPointF, Qt
from PySide6.QtWidgets import QAbstractScrollArea, QApplication, QWidget

from analysis.model.span import TimeSpan
from analysis.model.units import LengthUnit
from app.main_window import MainWindow
from app.pages.position_page import PositionPage

from .conftest import settled
from .plot_contract import words_of

TIMEOUT_MS = 20_000
SAMPLES = Path(__file__).parents[2] / "sample_data"
LEFT = Qt.MouseButton.LeftButton

pytestmark = pytest.mark.qt_log_ignore("does not support propagateSizeHints")


def wait(qtbot, window: MainWindow) -> None:
    session = window.session
    page = window.pages["position"]
    qtbot.waitUntil(
        lambda: settled(session) and session.position.calm.is_settled() and page.is_drawn(),
        timeout=TIMEOUT_MS,
    )


def open_sample(qtbot, window: MainWindow, name: str) -> PositionPage:
    session = window.session
    session.open(SAMPLES / name)
    qtbot.mouseClick(window.header.pages.button("position"), LEFT)
    qtbot.waitUntil(
        lambda: session.position.result is not None and session.position.result.whole,
        timeout=TIMEOUT_MS,
    )
    wait(qtbot, window)
    return window.pages["position"]


@pytest.fixture
def edge(qtbot, window) -> PositionPage:
    """The page in sight, with the sample whose one probe is near the end of its range."""
    return open_sample(qtbot, window, "edge_of_range.h5")


def test_the_sample_tells_its_story_at_first_sight(window, edge):
    """Issue 5: nothing is pressed but the page's name."""
    told = edge.headline.text()
    assert told.startswith("NDE-X sits ")
    assert "from the far end of its linear range" in told
    assert "p-p is not to be relied on" in told
    # The picture that proves it is the one in sight, and the other pages look there, too.
    assert edge.gap.title() == "NDE-X gap against time"
    assert not edge.gap._beyond.path().isEmpty()
    assert window.session.timeline_probe() == "NDE-X"
    assert window.session.choice.now.plane == "Non-drive end"
    states = {name: state.text for name, state in edge.ruler._view.states.items()}
    assert states.pop("NDE-X") == "◆ outside"
    assert set(states.values()) == {"– inside"}


def test_every_number_of_the_page_is_that_of_the_answer(window, edge):
    use = window.session.position.result.probes["NDE-X"].capture
    told = words_of(edge.ruler)
    assert f"−{-use.far_margin_um:.1f} µm −{-100 * use.far_share:.1f} %" in told
    assert f"{use.outside_turns} turns" in edge.gap.subtitle()


def test_findings_go_to_their_probe_and_time(qtbot, window, edge):
    session = window.session
    row = next(
        each
        for each in edge.findings.rows()
        if each.finding.topic == "hidden" and each.finding.subject == "NDE-X"
    )
    session.choose_probe("DE-X")
    wait(qtbot, window)
    assert edge.gap.title().startswith("DE-X")
    qtbot.mouseClick(row, LEFT)
    assert session.moment.moment_s == pytest.approx(row.finding.numbers["at_s"], abs=1e-6)
    assert session.timeline_probe() == "NDE-X"
    wait(qtbot, window)
    assert edge.gap.title().startswith("NDE-X")


def test_findings_answer_to_the_keyboard(qtbot, window, edge):
    window.session.choose_probe("DE-X")
    window.session.moment.set(1.0)
    wait(qtbot, window)
    edge.headline.row.setFocus()
    qtbot.keyClick(edge.headline.row, Qt.Key.Key_Return)
    assert window.session.timeline_probe() == "NDE-X"
    use = window.session.position.result.probes["NDE-X"].capture
    outside = [each.span for each in use.stretches]
    now = window.session.moment.moment_s
    assert any(each.start_s <= now <= each.end_s for each in outside)


def test_thrust_finding_brings_its_leaf(qtbot, window, edge):
    finding = next(f for f in window.session.position.result.findings if f.topic == "thrust")
    edge.go_to(finding)
    wait(qtbot, window)
    assert edge.leaves.leaf == "thrust"
    assert window.session.timeline_probe() in ("THR-A", "THR-B")
    (plot,) = edge.leaves.plots_of("thrust")
    assert plot.subtitle().startswith("– agree")


def test_a_row_of_the_ruler_is_the_probe_of_all(qtbot, window, edge):
    row = edge.ruler._rows[1]
    edge.ruler.canvas.pressed.emit(row.box.center(), Qt.KeyboardModifier.NoModifier)
    wait(qtbot, window)
    assert window.session.timeline_probe() == "DE-Y"
    assert edge.gap.title().startswith("DE-Y")
    assert next(c for c in window.probes.cards if c.probe.name == "DE-Y").property("chosen")
    assert "DE-Y" in words_of(edge.ruler)


@pytest.mark.parametrize("leaf", ["point", "centreline", "train", "thrust", "loops"])
def test_every_leaf_shows_the_sample(qtbot, window, edge, leaf):
    qtbot.mouseClick(edge.leaves.tabs.button(leaf), LEFT)
    wait(qtbot, window)
    plots = edge.leaves.plots_of(leaf)
    assert plots
    assert not any(plot.is_empty() for plot in plots)
    edge.fit()


def test_both_planes_stand_side_by_side(qtbot, window, edge):
    qtbot.mouseClick(edge.leaves.tabs.button("centreline"), LEFT)
    wait(qtbot, window)
    assert [p.title() for p in edge.leaves.plots_of("centreline")] == [
        "Drive end",
        "Non-drive end",
    ]
    reading = window.session.reader.result.readings.planes["Drive end"].centreline
    assert f"eccentricity {reading.eccentricity_ratio:.2f}" in (
        edge.leaves.plots_of("centreline")[0].subtitle()
    )


def test_pressing_the_curve_moves_the_moment(window, edge):
    plot = edge.gap
    place = QPointF(plot._pixel(12.0), plot.canvas.data_rect().center().y())
    plot.canvas.pressed.emit(place, Qt.KeyboardModifier.NoModifier)
    assert window.session.moment.moment_s == pytest.approx(12.0, abs=0.1)
    assert plot._moment[0] == window.session.moment.moment_s


def test_the_moment_alone_changes_its_own_line(qtbot, window, edge):
    session = window.session
    before = session.position.result.probes["NDE-X"]
    session.moment.set(1.0)
    wait(qtbot, window)
    after = session.position.result.probes["NDE-X"]
    assert after.capture == before.capture
    assert after.moment != before.moment
    assert edge.ruler._view.probes[2].moment == after.moment


def test_a_span_has_a_line_of_its_own(qtbot, window, edge):
    assert "span" not in words_of(edge.ruler)
    window.session.span.set(TimeSpan(9.0, 14.0))
    wait(qtbot, window)
    assert words_of(edge.ruler).count("span") == 6
    # Between its swings the probe stays inside.
    use = window.session.position.result.probes["NDE-X"].chosen
    assert use.outside_turns == 0
    assert use.far_margin_um > 0.0


def test_sentences_come_in_the_readers_unit(qtbot, window, edge):
    window.session.unit.set(LengthUnit.MIL)
    qtbot.waitUntil(lambda: "mil" in edge.headline.text(), timeout=TIMEOUT_MS)
    wait(qtbot, window)
    assert "µm" not in edge.headline.text()
    assert all("µm" not in text for text in edge.findings.texts())


def test_a_capture_in_order_says_so(qtbot, window):
    page = open_sample(qtbot, window, "run_up.h5")
    assert page.headline.text().startswith("All 6 probes stay inside their linear ranges")
    assert window.session.choice.now.timeline_probe is None


def test_nothing_is_asked_while_another_page_is_in_sight(qtbot, opened):
    session = opened.session
    assert session.position.result is None
    opened.show_page("position")
    qtbot.waitUntil(lambda: session.position.phase == "ready", timeout=TIMEOUT_MS)
    wait(qtbot, opened)
    opened.show_page("moment")
    result = session.position.result
    session.moment.set(2.0)
    qtbot.waitUntil(lambda: settled(session), timeout=TIMEOUT_MS)
    assert session.position.result is result
    opened.show_page("position")
    qtbot.waitUntil(lambda: session.position.result.request.moment_s == 2.0, timeout=TIMEOUT_MS)


def test_without_the_whole_capture_the_moment_is_shown(qtbot, opened):
    """The pass was stopped: what the moment tells stands, and why there is no more."""
    session = opened.session
    session.timeline._set(session.timeline.result, complete=False)
    opened.show_page("position")
    qtbot.waitUntil(lambda: session.position.result is not None, timeout=TIMEOUT_MS)
    wait(qtbot, opened)
    page = opened.pages["position"]
    assert not session.position.result.whole
    assert not page.ruler.is_empty()
    assert page.gap.is_empty()
    assert "“Go on”" in page.gap.empty_text()
    session.timeline.start()
    qtbot.waitUntil(lambda: session.position.phase == "ready", timeout=TIMEOUT_MS)
    wait(qtbot, opened)
    assert not page.gap.is_empty()


def test_another_capture_takes_the_place_of_the_first(qtbot, window, edge):
    session = window.session
    session.open(SAMPLES / "whirl.h5")
    qtbot.waitUntil(
        lambda: session.capture.capture.name == "whirl.h5" and session.position.phase == "ready",
        timeout=TIMEOUT_MS,
    )
    wait(qtbot, window)
    assert session.capture.setup is not None
    names = [probe.name for probe in session.capture.setup.probe]
    assert [each.name for each in edge.ruler._view.probes] == names


def test_a_capture_without_planes_or_axial_probes_says_what_to_do(qtbot, window):
    page = open_sample(qtbot, window, "calibrator.h5")
    for leaf, words in (("centreline", "has no plane"), ("thrust", 'kind = "axial"')):
        qtbot.mouseClick(page.leaves.tabs.button(leaf), LEFT)
        wait(qtbot, window)
        plot = page.leaves.plots_of(leaf)[0]
        assert plot.is_empty()
        assert words in plot.empty_text()


def test_findings_are_copied(window, edge):
    edge.copy_readings()
    figures, _, findings = QApplication.clipboard().text().partition("\n\n")
    assert findings.splitlines() == edge.findings.texts()
    assert any(line.startswith("NDE-X") for line in findings.splitlines())
    # For a spreadsheet: as many cells a line as heads.
    assert {line.count("\t") for line in figures.splitlines()} == {8}


def test_everything_has_a_name_and_a_tooltip(window, edge):
    reached = 0
    for widget in edge.findChildren(QWidget):
        # A scroll area's viewport hands the keyboard to its area.
        area = widget.parent()
        inner = isinstance(area, QAbstractScrollArea) and area.viewport() is widget
        if widget.isVisible() and widget.focusPolicy() & Qt.FocusPolicy.TabFocus and not inner:
            reached += 1
            assert widget.accessibleName() or getattr(widget, "text", str)(), widget
            assert widget.toolTip(), widget
    # Three pictures at least, the headline and a finding.
    assert reached > 5


def test_pictures(qtbot, window, edge, tmp_path):
    import os

    folder = Path(os.environ.get("RUNTRUE_SCREENSHOTS", tmp_path))
    folder.mkdir(parents=True, exist_ok=True)
    for theme in ("light", "dark"):
        window.session.theme.set(theme)
        wait(qtbot, window)
        qtbot.waitUntil(window.is_painted)
        assert window.grab().save(str(folder / f"position-{theme}.png"))


def test_who_follows_the_moment_elsewhere_gets_figures_at_a_pace_to_be_read(qtbot, window, edge):
    """The Moment page is not in sight: its pictures wait, and so do the answers for them."""
    session, moment_page = window.session, window.pages["moment"]
    drawn = moment_page.orbit._view
    answers = []
    session.reader.answered.connect(lambda: answers.append(session.reader.result.request.moment_s))
    for step in range(20):
        session.moment.set(3.0 + 0.05 * step)
        qtbot.wait(10)
    wait(qtbot, window)
    assert 1 <= len(answers) <= 6
    assert answers[-1] == session.moment.moment_s
    assert session.position.result.request.moment_s == session.moment.moment_s
    assert moment_page.orbit._view is drawn
    window.show_page("moment")
    qtbot.waitUntil(lambda: moment_page.spectrum._view is session.reader.result.spectrum)
    assert moment_page.orbit._view.raw is session.reader.result.orbit


def test_the_ruler_s_figures_follow_its_bars(qtbot, window, edge):
    session = window.session
    session.moment.set(6.9)
    wait(qtbot, window)
    use = session.position.result.probes["NDE-X"].moment
    assert edge.ruler._view.probes[2].moment is use
    assert f"{use.far_margin_um:.1f} µm".replace("-", "−") in " ".join(words_of(edge.ruler))


def test_the_figures_are_those_of_the_answer_in_the_unit_shown(qtbot, window, edge):
    session = window.session
    session.choose_span(6.0, 8.0)
    qtbot.mouseClick(edge.leaves.tabs.button("figures"), LEFT)
    wait(qtbot, window)
    sheet = edge.leaves._made["figures"]
    shown = sheet.cells.sheet
    texts = ([cell.text for cell in row] for row in shown.rows)
    told = dict(zip(shown.names, texts, strict=True))
    assert len(told) == 6 * 3
    probe = session.position.result.probes["NDE-X"]
    for which, use in (("capture", probe.capture), ("span", probe.chosen)):
        row = told[f"NDE-X {which}"]
        lengths = (use.mean_um, use.min_um, use.max_um, use.near_margin_um, use.far_margin_um)
        assert row[:5] == [f"{value:.1f}".replace("-", "−") for value in lengths]
        assert row[7] == str(use.outside_turns)
    edge.copy_readings()
    copied = QApplication.clipboard().text()
    assert "NDE-X capture\t" in copied
    assert edge.findings.texts()[0] in copied
    session.unit.set(LengthUnit.MIL)
    wait(qtbot, window)
    mil = sheet.cells.sheet
    assert mil.heads[0] == "mean\nmil"
    row = mil.rows[mil.names.index("NDE-X capture")]
    assert float(row[0].text) == pytest.approx(probe.capture.mean_um / 25.4, abs=0.006)
    sheet.clicked.emit(sheet.cells.index(mil.names.index("DE-Y moment"), 2))
    assert session.timeline_probe() == "DE-Y"

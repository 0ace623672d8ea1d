"""Screenshots of every page in both themes, and what can be checked of them by machine.

The pictures go to the folder named by RUNTRUE_SCREENSHOTS, for people to look at.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from PySide6.QtWidgets import QAbstractButton, QLabel

from app.dialogs.page_help import PageHelp
from app.pages.registry import PAGES
from app.reports.headless import SIZE, write_report
from app.session.notices import Notice
from app.work.step import Step

from .conftest import settled

TIMEOUT_MS = 30_000
SAMPLE = Path(__file__).parents[2] / "sample_data" / "run_up.h5"
SIZES = ((1280, 800), (1600, 1000))
THEMES = ("light", "dark")

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


@pytest.fixture(scope="session")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    named = os.environ.get("RUNTRUE_SCREENSHOTS")
    path = Path(named) if named else tmp_path_factory.mktemp("screenshots")
    path.mkdir(parents=True, exist_ok=True)
    return path


def wait_for_all(qtbot, window) -> None:
    qtbot.waitUntil(lambda: settled(window.session), timeout=TIMEOUT_MS)
    # What pages do a little at a time: a picture before that would lack headlines and findings.
    steps = window.findChildren(Step)
    qtbot.waitUntil(lambda: not any(s.is_waiting() for s in steps), timeout=TIMEOUT_MS)


def take(qtbot, window, folder: Path, name: str) -> None:
    wait_for_all(qtbot, window)
    qtbot.waitUntil(window.is_painted)
    window.session.timeline.changed.emit()
    picture = window.grab()
    assert picture.size() == window.size() * window.devicePixelRatioF()
    assert picture.save(str(folder / f"{name}.png"))
    colours = {
        picture.toImage().pixelColor(x, y).rgb()
        for x in range(0, picture.width(), 7)
        for y in range(0, picture.height(), 7)
    }
    assert len(colours) > 20, "an empty picture"


def clipped(window) -> list[str]:
    """Labels and buttons that have less room than their text needs, and do not elide by design."""
    found = []
    for widget in (*window.findChildren(QLabel), *window.findChildren(QAbstractButton)):
        if not widget.isVisible() or not widget.text() or widget.objectName().startswith("qt_"):
            continue
        policy = widget.sizePolicy().horizontalPolicy()
        if policy == policy.Ignored or (isinstance(widget, QLabel) and widget.wordWrap()):
            continue
        if widget.width() + 1 < widget.sizeHint().width():
            found.append(f"{widget.text()!r}: {widget.width()} of {widget.sizeHint().width()}")
    return found


def outside(window) -> list[str]:
    """Cards and plots of which a part lies outside their parents."""
    page = window.stack.currentWidget()
    found = []
    for plot in (*page.plots(), window.timeline.plot):
        if not plot.isVisible():
            continue  # on a leaf that nobody has turned to, and not laid out before
        card = plot.parentWidget()
        while card.property("role") not in ("card", "leaves"):
            card = card.parentWidget()
        inside = plot.rect().translated(plot.mapTo(card, plot.rect().topLeft()))
        if not card.rect().contains(inside):
            found.append(f"{plot.title()}: {inside} in {card.rect()}")
    return found


@pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size[0]}x{size[1]}")
@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("page", [entry.key for entry in PAGES])
def test_every_page(qtbot, window, folder, page, theme, size):
    """With the sample: six probes in two planes, zones, position limits, a critical speed."""
    opened = window
    opened.session.open(SAMPLE)
    qtbot.waitUntil(lambda: opened.session.timeline.complete, timeout=TIMEOUT_MS)
    opened.resize(*size)
    opened.session.theme.set(theme)
    opened.show_page(page)
    opened.timeline.go_to_largest()
    wait_for_all(qtbot, opened)
    # A heading gets its room a turn of the event loop after its words.
    qtbot.waitUntil(lambda: clipped(opened) == [], timeout=TIMEOUT_MS)
    take(qtbot, opened, folder, f"{page}-{theme}-{size[0]}x{size[1]}")
    assert outside(opened) == []
    table = opened.pages["moment"].readings.table
    assert not table.horizontalScrollBar().isVisible()
    assert not table.verticalScrollBar().isVisible()
    assert not opened.probes.verticalScrollBar().isVisible()


@pytest.mark.parametrize("theme", THEMES)
def test_the_window_with_nothing_open(qtbot, window, folder, theme):
    window.session.theme.set(theme)
    take(qtbot, window, folder, f"start-{theme}")
    assert clipped(window) == []


@pytest.mark.parametrize("theme", THEMES)
def test_the_help(qtbot, window, folder, theme):
    window.session.theme.set(theme)
    window.show_help()
    dialog = window.findChild(PageHelp)
    qtbot.waitUntil(lambda: "p-p" in dialog.text.toPlainText())
    assert dialog.grab().save(str(folder / f"help-{theme}.png"))
    assert clipped(dialog) == []
    assert dialog.width() < SIZES[0][0]
    assert dialog.height() < SIZES[0][1]


def test_messages(qtbot, opened, folder):
    opened.session.notices.show(
        Notice(
            "a",
            "error",
            "The setup pump.toml has 9 errors",
            "\n".join(f"line {n}, probe: wrong" for n in range(9)),
        )
    )
    opened.session.notices.show(Notice("b", "warning", "run.h5: 1 warning", "Samples were lost."))
    opened.session.notices.show(Notice("c", "info", "The setup is saved as pump.toml"))
    take(qtbot, opened, folder, "messages")
    assert len(opened.banner.texts()) == 2
    assert opened.banner.height() < 260
    assert clipped(opened) == []


def test_the_report_without_a_screen(qapp, capture_path, tmp_path):
    written = write_report(capture_path, None, tmp_path)
    assert [path.name for path in written] == ["steady-moment.png", "steady-readings.txt"]
    from PySide6.QtGui import QImage

    picture = QImage(str(written[0]))
    assert picture.size() == SIZE
    text = written[1].read_text(encoding="utf-8")
    assert "DE-X" in text
    assert "1500" in text


def test_the_report_of_a_bare_capture_is_text_alone(qapp, bare_path, tmp_path):
    written = write_report(bare_path, None, tmp_path)
    assert [path.name for path in written] == ["bare-readings.txt"]
    assert "REF" in written[0].read_text(encoding="utf-8")

"""The Alarms page takes the GUI thread for 50 ms at most: shown first, dragged in, given resets."""

from __future__ import annotations

import pytest

from app.main_window import MainWindow
from app.pages.page_set import PageSet
from app.pages.registry import PAGES

from .test_watchdog import MOST_MS, TRIES, big, long_path
from .watchdog import Watchdog
from .watchdog_run import PaintCount, is_settled, spin, spin_until

__all__ = ["big", "long_path"]

FEWEST_PAINTS = 60
"""Fewer pictures in a round, and it was quick for that reason."""


def shown(window: MainWindow) -> bool:
    alarms = window.session.alarms
    return is_settled(window.session) and alarms.result is not None and alarms.calm.is_settled()


def work_through(window: MainWindow, watchdog: Watchdog) -> None:
    """Show the page, drag both lines and the mark, put resets, look at every leaf."""
    session, page = window.session, window.pages["alarms"]
    with watchdog.watch("the page is shown"):
        window.show_page("alarms")
        spin(100)
        spin_until(lambda: shown(window))
        spin(100)
    chosen = session.trial.chosen
    above = session.trial.in_force.limit[chosen].above
    with watchdog.watch("a line is dragged"):
        for step in range(60):
            page.level.setting_requested.emit(chosen, "above", above * (1.0 - 0.008 * step))
            spin(8)
        spin_until(lambda: shown(window))
        spin(250)
    with watchdog.watch("the mark is dragged"):
        for step in range(40):
            page.boundary.setting_requested.emit(chosen, "above", above - step, 0.1 * step)
            spin(8)
        spin_until(lambda: shown(window))
        spin(250)
    with watchdog.watch("resets are put"):
        for step in range(12):
            session.resets.add(20.0 + 15.0 * step)
            spin(60)
    with watchdog.watch("leaves and limits"):
        for leaf in ("changes", "contacts", "guidance", "proof", "events"):
            page.lists.tabs.button(leaf).click()
            spin(120)
        for index in range(len(session.trial.limits)):
            session.trial.choose(index)
            spin(80)
    with watchdog.watch("the moment moves"):
        for step in range(60):
            session.moment.set(60.0 + 0.4 * step)
            spin(8)
        spin_until(lambda: shown(window))


def start_over(window: MainWindow) -> None:
    session = window.session
    window.show_page("moment")
    session.trial.back()
    session.resets.clear()
    spin(200)


@pytest.fixture
def sheet_on_the_window(qapp):
    """As in the program: other tests hang the style sheet on the application, which is dear."""
    sheet = qapp.styleSheet()
    qapp.setStyleSheet("")
    yield
    qapp.setStyleSheet(sheet)


def test_pages_are_made_in_small_steps(big: MainWindow, sheet_on_the_window):
    """All but the first, which comes with the window."""
    later = PAGES[1:]
    least = float("inf")
    for _ in range(TRIES):
        pages, watchdog = PageSet(big.session, later), Watchdog()
        with watchdog.watch("the pages are made"):
            pages.prepare(after_ms=0)
            spin_until(lambda pages=pages: len(pages.ready) == len(later))
        for page in pages.ready.values():
            page.deleteLater()
        least = min(least, watchdog.worst().busy_ms)
        if least <= MOST_MS:
            break
    assert later
    assert least <= MOST_MS


def test_the_gui_thread_is_never_busy_for_long(big: MainWindow, long_path, capsys):
    big.session.open(long_path)
    spin_until(lambda: big.session.capture.phase == "ready" and is_settled(big.session))
    # The least of several rounds, as in `test_watchdog`; the very first time that the page is
    # shown counts by itself, for there is only one.
    least: dict[str, float] = {}
    first: float | None = None
    for _ in range(TRIES):
        watchdog, paints = Watchdog(), PaintCount(big)
        work_through(big, watchdog)
        with capsys.disabled():
            print(f"\n{watchdog.report()}")
        first = first or watchdog.worst("the page is shown").busy_ms
        if paints.count > FEWEST_PAINTS:
            for name in watchdog.names():
                busy = watchdog.worst(name).busy_ms
                least[name] = min(least.get(name, busy), busy)
        if least and max(least.values()) <= MOST_MS:
            break
        start_over(big)
    assert least, "the page paints too little for its quickness to count"
    assert max(least.values()) <= MOST_MS, least
    # Twice the bound where other programs take the machine in that very moment.
    assert first <= 2.0 * MOST_MS

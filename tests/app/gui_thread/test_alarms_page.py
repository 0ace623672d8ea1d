"""The Alarms page takes the GUI thread for 50 ms at most: shown first, dragged in, given resets."""

from __future__ import annotations

from app.main_window import MainWindow
from app.pages.page_set import PageSet
from app.pages.registry import PAGES

from .rounds import MOST_MS, TRIES, assert_never_busy_for_long
from .watchdog import Watchdog
from .window_run import PaintCount, is_settled, spin, spin_until

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


def test_pages_are_made_in_small_steps(big: MainWindow):
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

    def go_round(watchdog: Watchdog) -> int:
        paints = PaintCount(big)
        work_through(big, watchdog)
        start_over(big)
        return paints.count

    assert_never_busy_for_long(go_round, fewest_paints=FEWEST_PAINTS, capsys=capsys)

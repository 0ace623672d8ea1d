"""The Position page takes the GUI thread for 50 ms at most: shown first, and in use."""

from __future__ import annotations

from app.main_window import MainWindow

from .rounds import assert_never_busy_for_long
from .watchdog import Watchdog
from .window_run import PaintCount, is_settled, spin, spin_until

FEWEST_PAINTS = 60
"""Fewer pictures in a round, and it was quick for that reason."""


def shown(window: MainWindow) -> bool:
    position, page = window.session.position, window.pages["position"]
    return (
        is_settled(window.session)
        and position.phase == "ready"
        and position.calm.is_settled()
        and page.is_drawn()
    )


def work_through(window: MainWindow, watchdog: Watchdog) -> None:
    """Show the page, move the moment, look at every probe and every leaf, take a finding."""
    session, page = window.session, window.pages["position"]
    with watchdog.watch("the page is shown"):
        window.show_page("position")
        spin(100)
        spin_until(lambda: shown(window))
        spin(100)
    with watchdog.watch("the moment moves"):
        for step in range(60):
            session.moment.set(60.0 + 0.4 * step)
            spin(8)
        spin_until(lambda: shown(window))
    with watchdog.watch("probes"):
        for probe in session.capture.setup.probe:
            session.choose_probe(probe.name)
            spin(120)
    with watchdog.watch("leaves"):
        for leaf in ("centreline", "train", "thrust", "loops", "point"):
            page.leaves.tabs.button(leaf).click()
            spin(150)
    with watchdog.watch("a finding is taken"):
        page.go_to(session.position.result.findings[0])
        spin_until(lambda: shown(window))
        spin(100)


def test_the_gui_thread_is_never_busy_for_long(big: MainWindow, long_path, capsys):
    big.session.open(long_path)
    spin_until(lambda: big.session.capture.phase == "ready" and is_settled(big.session))

    def go_round(watchdog: Watchdog) -> int:
        paints = PaintCount(big)
        work_through(big, watchdog)
        big.show_page("moment")
        spin(200)
        return paints.count

    assert_never_busy_for_long(go_round, fewest_paints=FEWEST_PAINTS, capsys=capsys)

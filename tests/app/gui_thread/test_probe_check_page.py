"""The Probe check page takes the GUI thread for 50 ms at most: shown first, typed in, used."""

from __future__ import annotations

from app.main_window import MainWindow
from tests.app.probe_check import FOUND, LEFT

from .rounds import assert_never_busy_for_long
from .watchdog import Watchdog
from .window_run import PaintCount, is_settled, spin, spin_until

FEWEST_PAINTS = 40
"""Fewer pictures in a round, and it was quick for that reason."""


def shown(window: MainWindow) -> bool:
    session, page = window.session, window.pages["check"]
    judged = session.checks.result is not None
    return is_settled(session) and judged and page.is_drawn()


def work_through(window: MainWindow, watchdog: Watchdog) -> None:
    """Show the page, open both tables, type, look at every check."""
    session, check = window.session, window.session.check
    with watchdog.watch("the page is shown"):
        window.show_page("check")
        spin(100)
        spin_until(lambda: shown(window))
        spin(100)
    panel = window.pages["check"].leaf().table
    with watchdog.watch("tables are opened"):
        for stage, path in (("as found", FOUND), ("as left", LEFT)):
            check.set_facts(stage=stage)
            panel.open_file(path)
            spin(150)
            spin_until(lambda: shown(window))
            spin(100)
    with watchdog.watch("a value is typed"):
        for step in range(30):
            check.set_cell(4, "left_v", -9.83 - 0.001 * step)
            spin(20)
        spin_until(lambda: shown(window))
    with watchdog.watch("the moment moves"):
        for step in range(60):
            session.moment.set(60.0 + 0.4 * step)
            spin(8)
        spin_until(lambda: shown(window))
    with watchdog.watch("other checks are looked at"):
        for key in ("loop", "run", "loop", "table"):
            check.set_facts(check=key)
            spin(150)
            spin_until(lambda: shown(window))
            spin(50)


def test_the_gui_thread_is_never_busy_for_long(big: MainWindow, long_path, capsys):
    big.session.open(long_path)
    spin_until(lambda: big.session.capture.phase == "ready" and is_settled(big.session))

    def go_round(watchdog: Watchdog) -> int:
        paints = PaintCount(big)
        work_through(big, watchdog)
        big.show_page("moment")
        big.session.check.set_rows(())
        spin(200)
        return paints.count

    assert_never_busy_for_long(go_round, fewest_paints=FEWEST_PAINTS, capsys=capsys)

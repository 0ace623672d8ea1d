"""The Run page takes the GUI thread for 50 ms at most: shown first, and in use."""

from __future__ import annotations

from pathlib import Path

from app.main_window import MainWindow

from .rounds import assert_never_busy_for_long
from .watchdog import Watchdog
from .window_run import PaintCount, is_settled, spin, spin_until

SAMPLE = Path(__file__).parents[3] / "sample_data" / "run_up.h5"

FEWEST_PAINTS = 60
"""Fewer pictures in a round, and it was quick for that reason."""


def shown(window: MainWindow) -> bool:
    """Everything that the page can show has been answered and drawn."""
    session = window.session
    return (
        is_settled(session)
        and session.run.response is not None
        and not session.run.looking
        and session.cascade.components is not None
        and window.pages["run"].is_settled()
    )


def work_through(window: MainWindow, watchdog: Watchdog) -> None:
    """Show the page, move the moment, choose what is shown, look at every leaf."""
    session, page = window.session, window.pages["run"]
    choice = session.run_choice

    def choose(**chosen: object) -> None:
        choice.set(**chosen)
        spin_until(lambda: shown(window))
        spin(100)

    with watchdog.watch("the page is shown"):
        window.show_page("run")
        spin(100)
        spin_until(lambda: shown(window))
        spin(100)
    with watchdog.watch("the moment moves"):
        for step in range(60):
            session.moment.set(15.0 + 0.8 * step)
            spin(8)
        spin_until(lambda: shown(window))
    with watchdog.watch("probes"):
        for _, probes, _ in page.groups():
            choose(probes=probes)
    with watchdog.watch("order"):
        for order in (2, 1):
            choose(order=order)
    with watchdog.watch("speed and time"):
        for axis in ("time", "speed"):
            choose(axis=axis)
    with watchdog.watch("path"):
        choose(path="centreline")
        for step in range(30):
            session.moment.set(15.0 + 1.6 * step)
            spin(8)
        session.unit.toggle()
        spin(150)
        session.unit.toggle()
        choose(path="vectors")
    with watchdog.watch("phase wrapped"):
        for wrapped in (True, False):
            choose(wrapped=wrapped)
    with watchdog.watch("leaves"):
        for leaf in ("components", "difference", "criticals"):
            page.lists.show_leaf(leaf)
            spin(150)
    with watchdog.watch("cascade"):
        for wish in (
            {"style": "lines"},
            {"style": "picture"},
            {"over": "time"},
            {"over": "speed"},
        ):
            choice.set_cascade(**wish)
            spin(50)
            spin_until(lambda: shown(window))
            spin(100)
    with watchdog.watch("unit"):
        for _ in range(2):
            session.unit.toggle()
            spin(150)


def test_the_gui_thread_is_never_busy_for_long(big: MainWindow, capsys):
    big.session.open(SAMPLE)
    spin_until(lambda: big.session.capture.phase == "ready" and is_settled(big.session))

    def go_round(watchdog: Watchdog) -> int:
        paints = PaintCount(big)
        work_through(big, watchdog)
        big.show_page("moment")
        spin(200)
        return paints.count

    assert_never_busy_for_long(go_round, fewest_paints=FEWEST_PAINTS, capsys=capsys)

"""The Lab takes the GUI thread for 50 ms at most: shown first, in use, and at every leaf."""

from __future__ import annotations

import pytest

from analysis.simulate.gallery import SHAPES
from app.main_window import MainWindow
from app.pages.registry import PAGES, load
from app.session.session import Session
from app.work.garbage import GarbageKeeper
from tests.app.conftest import let_go

from .rounds import assert_never_busy_for_long
from .watchdog import Watchdog
from .window_run import PaintCount, spin, spin_until

FEWEST_PAINTS = 300
"""Fewer pictures in a round, and it was quick for that reason."""


@pytest.fixture
def new_window(qtbot, settings):
    """Makes the window as the program shows it; each has a Lab that nobody has looked at."""
    made: list[MainWindow] = []
    garbage = GarbageKeeper()

    def make() -> MainWindow:
        session = Session(settings)
        session.theme.set("light")
        window = MainWindow(session)
        made.append(window)
        window.resize(1600, 1000)
        with qtbot.waitExposed(window):
            window.show()
        spin(200)
        return window

    yield make
    garbage.stop()
    for window in made:
        window.close()
        window.deleteLater()
        let_go(window.session)


def drag(slider, ticks: range) -> None:
    """Move a slider as a hand does: more often than a screen shows."""
    for tick in ticks:
        slider.slider.setValue(tick)
        spin(8)


def work_through(window: MainWindow, watchdog: Watchdog) -> int:
    """Show the Lab, drag a slider, take shapes and tasks, open the rotor and drag there.

    Returns how often a picture of the Lab was painted, the rotor's aside.
    """
    with watchdog.watch("the page is shown"):
        window.start.lab.click()
        page = window.pages["lab"]
        spin_until(page.is_ready)
        spin(200)
    paints = PaintCount(window)
    with watchdog.watch("a slider is dragged"):
        page.show_leaf("compose")
        drag(page.leaf("compose").sliders()["1X.backward_um_pp"], range(120))
        spin_until(page.is_ready)
    with watchdog.watch("shapes are taken"):
        page.show_leaf("gallery")
        for shape in SHAPES[::4]:
            page.leaf("gallery").choose(shape.key)
            spin(120)
        spin_until(page.is_ready)
    with watchdog.watch("tasks are opened"):
        page.show_leaf("tasks")
        spin(100)
        for kind in ("precession", "swapped", "slow_roll", "alarm"):
            page.leaf("tasks").kinds.chosen.emit(kind)
            spin(120)
        spin_until(page.is_ready)
    with watchdog.watch("the rotor is opened"):
        page.show_leaf("rotor")
        spin_until(lambda: page.is_ready() and page.leaf("rotor").lab.answer.complete)
        spin(300)
    controls = page.leaf("rotor").controls
    with watchdog.watch("the speed is dragged"):
        drag(controls.speed, range(200, 320))
        spin(100)
    with watchdog.watch("the rotor is changed"):
        drag(controls.slider("mass_kg"), range(60, 180))
        spin_until(lambda: page.leaf("rotor").lab.answer.complete and page.is_ready())
        spin(100)
    return paints.count


def test_the_gui_thread_is_never_busy_for_long(new_window, capsys):
    # As the window does ahead, one a turn: what is watched here is making and drawing.
    for module in next(entry for entry in PAGES if entry.key == "lab").modules:
        load(module)

    def go_round(watchdog: Watchdog) -> int:
        window = new_window()
        painted = work_through(window, watchdog)
        window.close()
        return painted

    assert_never_busy_for_long(go_round, fewest_paints=FEWEST_PAINTS, capsys=capsys)

"""Libraries loaded ahead, and reference cycles collected in the GUI thread alone."""

from __future__ import annotations

import gc
import subprocess
import sys
import threading

from app.work.garbage import LOOK_EVERY_MS, GarbageKeeper
from app.work.libraries import load_libraries
from app.work.runner import Callbacks, JobRunner


class Cycle:
    """Part of a cycle that tells which thread let go of it."""

    def __init__(self, told: list[str]) -> None:
        self.told, self.itself = told, self

    def __del__(self) -> None:
        self.told.append(threading.current_thread().name)


def test_cycles_are_let_go_of_in_the_gui_thread(qtbot):
    told: list[str] = []

    def litter() -> None:
        for _ in range(20 * gc.get_threshold()[0]):
            Cycle(told)

    gc.collect()
    gc.enable()  # the other tests go without
    keeper = GarbageKeeper()
    try:
        thread = threading.Thread(target=litter, name="other")
        thread.start()
        thread.join()
        assert told == []
        qtbot.waitUntil(lambda: len(told) > 0, timeout=20 * LOOK_EVERY_MS)
        assert set(told) == {threading.main_thread().name}
    finally:
        keeper.stop()
        was_given_back = gc.isenabled()
        gc.disable()
    assert was_given_back
    assert gc.get_freeze_count() == 0


def test_the_window_stands_before_the_numbers_are_loaded():
    heavy = {"h5py", "pydantic", "scipy.ndimage", "analysis.views.moment", "analysis.model.results"}
    code = (
        "import sys\n"
        "from app.main_window import MainWindow, prepare_application\n"
        "from app.session.session import Session\n"
        "from app.work.libraries import load_libraries\n"
        "from app.work.runner import JobProgress\n"
        "app = prepare_application()\n"
        "window = MainWindow(Session())\n"
        "window.show()\n"
        "app.processEvents()\n"
        f"heavy = {heavy}\n"
        "before = heavy & set(sys.modules)\n"
        "load_libraries(JobProgress(lambda kind, payload: None))\n"
        "print(sorted(before), sorted(heavy - set(sys.modules)), flush=True)\n"
        "import os\n"
        "os._exit(0)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    )
    assert done.stdout.strip() == "[] []"


def test_loading_can_be_stopped(qtbot):
    runner = JobRunner()
    told = []
    runner.run("libraries", load_libraries, Callbacks(cancelled=lambda: told.append(True)))
    runner.cancel("libraries")
    runner.shutdown()
    assert told == [True]

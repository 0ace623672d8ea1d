"""Start-up to a usable window; or, as its floor, the libraries and an empty one."""

from __future__ import annotations

import sys

from PySide6.QtCore import QTimer


def ours() -> None:
    """The program's own window, until it has been painted and waits for its user."""
    from app.main_window import MainWindow, prepare_application
    from app.session.session import Session

    app = prepare_application()
    window = MainWindow(Session())
    window.resize(1600, 1000)
    window.show()
    QTimer.singleShot(0, lambda: QTimer.singleShot(0, lambda: leave(window)))
    app.exec()


def floor() -> None:
    """What the window is made with, and an empty window."""
    import numpy  # noqa: F401
    import pyqtgraph  # noqa: F401
    from pydantic import BaseModel
    from PySide6.QtWidgets import QApplication, QWidget

    class _Model(BaseModel):
        """Pydantic imports itself piece by piece: the first model brings in the rest."""

    app = QApplication([])
    window = QWidget()
    window.resize(1600, 1000)
    window.show()
    QTimer.singleShot(0, lambda: QTimer.singleShot(0, lambda: leave(window)))
    app.exec()


def leave(_window: object) -> None:
    """End without taking anything down: that is no part of starting."""
    import os

    print("{}", flush=True)
    os._exit(0)


if __name__ == "__main__":
    {"ours": ours, "floor": floor}[sys.argv[1]]()

"""Python's collector of reference cycles, kept to the GUI thread and to short turns."""

from __future__ import annotations

import gc

from PySide6.QtCore import QObject, QTimer

LOOK_EVERY_MS = 200


class GarbageKeeper(QObject):
    """Takes over from the automatic collector until `stop`.

    The automatic one runs in whichever thread happens to make the next object. In a worker it would
    let go of Qt objects there, which Qt forbids. And a look at everything that the libraries have
    made takes some 50 ms, in the middle of a drag: what stands at the start is left out of it.
    """

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._was_enabled = gc.isenabled()
        gc.disable()
        gc.freeze()
        self._timer = QTimer(self)
        self._timer.timeout.connect(self._look)
        self._timer.start(LOOK_EVERY_MS)

    def stop(self) -> None:
        """Give back to the automatic collector."""
        self._timer.stop()
        gc.unfreeze()
        if self._was_enabled:
            gc.enable()

    def _look(self) -> None:
        """Collect the oldest generation that is due, as the automatic one would."""
        due = [
            generation
            for generation, (count, limit) in enumerate(
                zip(gc.get_count(), gc.get_threshold(), strict=True)
            )
            if count > limit
        ]
        if due:
            gc.collect(max(due))

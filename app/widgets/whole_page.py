"""What every page is."""

from __future__ import annotations

from PySide6.QtWidgets import QWidget


class WholePage(QWidget):
    """A page takes the room that it gets, and scrolls where that is too little.

    Wrapped words somewhere in it would have every layout around it ask every page, in sight or not,
    how high it is at each width: most of the time that turning to a page takes.
    """

    def hasHeightForWidth(self) -> bool:
        """Never."""
        return False

"""Room for a picture that is made later: a canvas takes a good part of a turn by itself."""

from __future__ import annotations

from collections.abc import Callable
from typing import Generic, TypeVar

from PySide6.QtWidgets import QVBoxLayout, QWidget

from .card import Card
from .plot import Plot

P = TypeVar("P", bound=Plot)


class PlotSlot(QWidget, Generic[P]):
    """Holds the place of a picture in a layout until somebody makes it, or asks for it."""

    def __init__(
        self,
        make: Callable[[], P],
        join: Callable[[P], None],
        wrap: Callable[[P], QWidget] = Card,
    ) -> None:
        """`make` makes the picture, `join` connects it with its page, `wrap` puts it in a card."""
        super().__init__()
        self._make, self._join, self._wrap = make, join, wrap
        self._plot: P | None = None
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)

    @property
    def made(self) -> tuple[P, ...]:
        """The picture, if there is one."""
        return () if self._plot is None else (self._plot,)

    @property
    def plot(self) -> P:
        """The picture; made now where it has not been."""
        if self._plot is None:
            self._plot = self._make()
            self._join(self._plot)
            self.layout().addWidget(self._wrap(self._plot))
        return self._plot

    def prepare(self) -> None:
        """Make the picture where it has not been."""
        _ = self.plot

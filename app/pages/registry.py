"""The pages of the window, in the order of the switcher. A page that exists stands here."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, Protocol

from PySide6.QtWidgets import QWidget

from app.session.session import Session

from .moment_page import MomentPage


class Page(Protocol):
    """What the window asks of a page."""

    def fit(self) -> None:
        """Scale every picture to what it shows."""

    def copy_readings(self) -> None:
        """Put the page's readings on the clipboard."""


@dataclass(frozen=True)
class PageEntry:
    """A page: its key, its name in the switcher, the question it answers, its maker."""

    key: str
    title: str
    question: str
    make: Callable[[Session], QWidget]


PAGES: Final[tuple[PageEntry, ...]] = (
    PageEntry("moment", "Moment", "What is the shaft doing now?", MomentPage),
)

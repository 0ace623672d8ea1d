"""The pages of a window: the first one at once, the others when they are wanted or time allows."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QWidget

from app.plots.spare import drop_spares, make_spare
from app.work.step import Step

from .registry import PageEntry, load

if TYPE_CHECKING:
    from app.session.session import Session

AFTER_MS, BETWEEN_MS = 600, 15
"""The window stands first, and a capture that comes with it; then a step now and again."""


class PageSet(QObject):
    """Pages by key. Making one takes a good part of what starting takes, so it waits."""

    made = Signal(str, object)
    """Key and page, before anybody else has it."""

    def __init__(
        self, session: Session, entries: Sequence[PageEntry], parent: QObject | None = None
    ) -> None:
        super().__init__(parent)
        self._session = session
        self._entries = {entry.key: entry for entry in entries}
        self._pages: dict[str, QWidget] = {}
        self._steps: list[Callable[[], None]] = []
        self._timer = Step(self, BETWEEN_MS, self._step)

    def __getitem__(self, key: str) -> QWidget:
        """A page; made now where it has not been."""
        self.make(key)
        return self._pages[key]

    def __iter__(self) -> Iterator[str]:
        """The keys, in the order of the switcher."""
        return iter(self._entries)

    def __len__(self) -> int:
        """How many pages there are."""
        return len(self._entries)

    def __contains__(self, key: object) -> bool:
        """Whether there is such a page."""
        return key in self._entries

    def entry(self, key: str) -> PageEntry:
        """What is known of a page before it is made."""
        return self._entries[key]

    @property
    def ready(self) -> Mapping[str, QWidget]:
        """The pages that have been made."""
        return self._pages

    def make(self, key: str) -> None:
        """Make a page, unless it has been."""
        if key not in self._pages:
            page = self._entries[key].make(self._session)
            self._pages[key] = page
            self.made.emit(key, page)

    def prepare(self, after_ms: int = AFTER_MS) -> None:
        """Make the pages that are missing, a small step a turn of the event loop."""
        self._steps = [
            step
            for entry in self._entries.values()
            if entry.key not in self._pages
            for step in self._steps_of(entry)
        ]
        self._timer.start(after_ms)

    def stop(self) -> None:
        """Make nothing more ahead."""
        self._timer.stop()
        self._steps = []
        drop_spares()

    def _steps_of(self, entry: PageEntry) -> list[Callable[[], None]]:
        return [
            *(partial(load, module) for module in entry.modules),
            *[make_spare] * entry.plots,
            partial(self.make, entry.key),
        ]

    def _step(self) -> None:
        if self._steps:
            self._steps.pop(0)()
            self._timer.start()
        else:
            drop_spares()

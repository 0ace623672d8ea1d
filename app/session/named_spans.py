"""Spans with names: kept for each capture in the user's settings, never in the capture."""

from __future__ import annotations

import hashlib
import json
import math
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal

from analysis.model.span import TimeSpan

if TYPE_CHECKING:
    from .settings import Settings

NAME_MAX = 60
"""Characters of a name."""

_MOST = 200
"""Spans of one capture."""

_MOST_CAPTURES = 500
"""Captures whose spans are kept; those not changed for longest go first."""

_INDEX = "spans/captures"


@dataclass(frozen=True)
class NamedSpan:
    """A span, its name, and the moment that was looked at when it got it; s of capture time."""

    name: str
    span: TimeSpan
    moment_s: float


class NamedSpans(QObject):
    """The named spans of the open capture, in order of time."""

    changed = Signal()

    def __init__(self, settings: Settings) -> None:
        super().__init__()
        self._settings = settings
        self._key: str | None = None
        self._items: tuple[NamedSpan, ...] = ()

    @property
    def items(self) -> tuple[NamedSpan, ...]:
        """All of them."""
        return self._items

    def load(self, path: Path | None, limits: TimeSpan) -> None:
        """Another capture: its spans, as far as they lie in it. Without a path nothing is kept."""
        self._key = None if path is None else _key_of(path)
        stored = "" if self._key is None else self._settings.stored(self._key)
        inside = [each for each in _read(stored) if _lies_in(each.span, limits)]
        self._set(inside[:_MOST])

    def name_of(self, span: TimeSpan | None) -> str | None:
        """The name of exactly this span; `None` when it has none."""
        return next((each.name for each in self._items if each.span == span), None)

    def named(self, name: str) -> NamedSpan | None:
        """The span of this name, whatever its capitals."""
        wanted = _plain(name).casefold()
        return next((each for each in self._items if each.name.casefold() == wanted), None)

    def fault_of(self, name: str, span: TimeSpan | None = None) -> str | None:
        """Why a name cannot be given (to `span`, which may have it already); `None`: it can."""
        if not _plain(name):
            return "A span needs a name."
        if len(_plain(name)) > NAME_MAX:
            return f"A name has at most {NAME_MAX} characters."
        other = self.named(name)
        if other is not None and other.span != span:
            return f"“{other.name}” is the name of another span."
        if len(self._items) >= _MOST and self.name_of(span) is None:
            return f"A capture has at most {_MOST} named spans."
        return None

    def give(self, name: str, span: TimeSpan, moment_s: float) -> bool:
        """Name a span, or name it anew; tells whether it could be."""
        if self.fault_of(name, span) is not None:
            return False
        inside = span.start_s <= moment_s <= span.end_s
        moment = moment_s if inside else (span.start_s + span.end_s) / 2.0
        rest = [each for each in self._items if each.span != span]
        self._change([*rest, NamedSpan(_plain(name), span, moment)])
        return True

    def rename(self, item: NamedSpan, name: str) -> bool:
        """Give another name; tells whether it could be."""
        if item not in self._items or self.fault_of(name, item.span) is not None:
            return False
        rest = [each for each in self._items if each is not item]
        self._change([*rest, replace(item, name=_plain(name))])
        return True

    def remove(self, item: NamedSpan) -> None:
        """Forget a name; the capture stays as it is."""
        self._change([each for each in self._items if each != item])

    def _change(self, items: list[NamedSpan]) -> None:
        self._set(items)
        if self._key is None:
            return
        rows = [
            {
                "name": each.name,
                "start_s": each.span.start_s,
                "end_s": each.span.end_s,
                "moment_s": each.moment_s,
            }
            for each in self._items
        ]
        self._settings.remember(self._key, json.dumps(rows, ensure_ascii=False))
        self._tidy(self._key)

    def _tidy(self, key: str) -> None:
        known = [each for each in self._settings.stored(_INDEX).split() if each != key]
        known.append(key)
        for old in known[:-_MOST_CAPTURES]:
            self._settings.forget(old)
        self._settings.remember(_INDEX, " ".join(known[-_MOST_CAPTURES:]))

    def _set(self, items: list[NamedSpan]) -> None:
        ordered = tuple(sorted(items, key=lambda each: (each.span, each.name)))
        if ordered != self._items:
            self._items = ordered
            self.changed.emit()


def _key_of(path: Path) -> str:
    """A settings key of a file; its path would need escaping and may be longer than a key."""
    return f"spans/{hashlib.sha256(str(path.resolve()).encode()).hexdigest()[:32]}"


def _plain(name: str) -> str:
    return " ".join(name.split())


def _lies_in(span: TimeSpan, limits: TimeSpan) -> bool:
    return span.clipped_to(limits) == span


def _read(text: str) -> list[NamedSpan]:
    """What was stored; anything unreadable in it counts as not stored."""
    try:
        rows = json.loads(text) if text else []
    except ValueError:
        return []
    found: list[NamedSpan] = []
    for row in rows if isinstance(rows, list) else []:
        try:
            start, end, moment = (float(row[key]) for key in ("start_s", "end_s", "moment_s"))
            name = _plain(str(row["name"]))[:NAME_MAX]
        except (KeyError, TypeError, ValueError):
            continue
        if name and math.isfinite(start) and math.isfinite(moment) and start < end < math.inf:
            found.append(NamedSpan(name, TimeSpan(start, end), moment))
    return found

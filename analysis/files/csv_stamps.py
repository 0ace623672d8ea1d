"""Dates and times of day in a CSV column, as seconds since the first row."""

from __future__ import annotations

import polars as pl

from .csv_plan import CsvPlan
from .wording import file_error, one_line

# Day and month are only taken in orders that cannot be mistaken for one another.
_DATE_FORMATS = (
    "%Y-%m-%dT%H:%M:%S%.f%:z",
    "%Y-%m-%d %H:%M:%S%.f%:z",
    "%Y-%m-%dT%H:%M:%S%.f",
    "%Y-%m-%d %H:%M:%S%.f",
    "%Y/%m/%d %H:%M:%S%.f",
    "%d.%m.%Y %H:%M:%S%.f",
)
_TIME_OF_DAY = "%H:%M:%S%.f"
_DAY_NS = 86_400_000_000_000


class StampReader:
    """Turns stamps into seconds since the first one; times of day may pass midnight."""

    def __init__(self, plan: CsvPlan) -> None:
        self._plan = plan
        self._format: str | None = None
        self._origin_ns: int | None = None
        self._first: str | None = None
        self._last_ns = 0
        self._days = 0

    @property
    def first(self) -> str | None:
        """The first stamp as it is written, with its offset; `None` when it tells no offset."""
        if self._format is None or not self._format.endswith("%:z"):
            return None
        return self._first

    def in_seconds(self, stamps: pl.Series, first_line: int) -> pl.Series:
        """The stamps of the next rows in seconds.

        Raises:
            InputError: names the line whose stamp cannot be read.
        """
        texts = stamps.str.strip_chars().str.replace(r"Z$", "+00:00")
        texts = texts.str.replace(",", ".", literal=True)
        if self._format is None:
            self._format = self._find_format(texts[0], first_line)
        told_ns = _parse(texts, self._format)
        if told_ns.null_count():
            row = int(told_ns.is_null().arg_true()[0])
            raise self._unreadable(first_line + row, stamps[row])
        if self._format == _TIME_OF_DAY:
            told_ns = self._over_midnight(told_ns)
        if self._origin_ns is None:
            self._origin_ns = int(told_ns[0])
            self._first = stamps[0].strip()
        return (told_ns - self._origin_ns).cast(pl.Float64) / 1e9

    def _find_format(self, text: str | None, line: int) -> str:
        for candidate in (*_DATE_FORMATS, _TIME_OF_DAY):
            if text and _parse(pl.Series([text]), candidate).null_count() == 0:
                return candidate
        raise self._unreadable(line, text)

    def _over_midnight(self, stamps: pl.Series) -> pl.Series:
        """A time of day that falls back by more than half a day is of the next day."""
        before = pl.Series([self._last_ns if self._origin_ns is not None else stamps[0]])
        steps = stamps - pl.concat([before, stamps[:-1]])
        days = (steps < -_DAY_NS // 2).cast(pl.Int64).cum_sum() + self._days
        self._last_ns, self._days = int(stamps[-1]), int(days[-1])
        return stamps + days * _DAY_NS

    def _unreadable(self, line: int, text: str | None) -> Exception:
        return file_error(
            self._plan.path,
            f"line {line}: '{one_line(text or '', 40)}' is no date and time that can be told",
            "write it as 2026-03-02T08:15:00.000, or give --sample-rate HZ and leave the column "
            "out of --columns",
        )


def _parse(texts: pl.Series, form: str) -> pl.Series:
    """Nanoseconds since 1970 or midnight; null where a text does not fit."""
    if form == _TIME_OF_DAY:
        return texts.str.strptime(pl.Time, form, strict=False).cast(pl.Int64)
    return texts.str.strptime(pl.Datetime("ns"), form, strict=False).cast(pl.Int64)

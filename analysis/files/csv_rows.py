"""Rows of numbers: blocks of a CSV file turned into columns by polars.

polars has a streaming reader of its own, but it shows no progress, names no line in its errors and
takes short rows for rows with empty ends. So the file is cut into blocks of whole lines here, and
polars, which is the faster part by far, parses each. (pyarrow's block reader fixes the types from
the first block and has no decimal comma beside a block size, so it gains nothing.)
"""

from __future__ import annotations

import re
from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np
import polars as pl

from analysis.jobs import Progress
from analysis.model.capture import Floats
from analysis.model.errors import InputError

from .csv_blocks import LineBlocks
from .csv_even import TimeFacts, time_facts
from .csv_faults import find_fault
from .csv_layout import SECONDS_PER_UNIT
from .csv_plan import CsvPlan
from .csv_stamps import StampReader
from .csv_store import Columns
from .wording import file_error

_AHEAD = 3
_PADDED = re.compile(rb" *([;,\t\r\n]) *")


@dataclass(frozen=True)
class RowBlock:
    """Some rows: the channels in volts, then the times in seconds (if any); empty fields are NaN.

    `times` tells how even the times are; `None` without a time column.
    """

    rows: int
    columns: Columns
    times: TimeFacts | None


_Parsed = tuple[RowBlock, pl.Series | None]


class RowReader:
    """Parses a file block by block, and knows the line it has come to."""

    def __init__(self, plan: CsvPlan) -> None:
        self._plan = plan
        self._line = plan.data_line
        self._padded = False
        self._stamps = StampReader(plan) if plan.time_unit == "stamp" else None
        self._numbers = [channel.column for channel in plan.channels]
        self._factors = [channel.volts_per_number for channel in plan.channels]
        columns = {*self._numbers}
        if plan.time is not None:
            columns.add(plan.time)
            if self._stamps is None:
                self._numbers.append(plan.time)
                self._factors.append(SECONDS_PER_UNIT[plan.time_unit])
        self._columns = sorted(columns)
        # Named up front: the first block must not decide what the others hold.
        self._schema: dict[str, Any] = {str(i): pl.String() for i in range(len(plan.names))}
        for column in self._numbers:
            self._schema[str(column)] = pl.Float64()
        if self._stamps is not None:
            self._schema[str(plan.time)] = pl.String()

    @property
    def first_stamp(self) -> str | None:
        """The first date and time of a time-stamp column, as ISO 8601, if it is one."""
        return self._stamps.first if self._stamps is not None else None

    def blocks(self, progress: Progress) -> Iterator[RowBlock]:
        """The rows of the file, in order.

        Raises:
            InputError: names the line that cannot be read.
            JobCancelled: through `progress`.
        """
        # Blocks are read and parsed while the caller keeps the one before.
        with (
            LineBlocks(self._plan) as lines,
            ThreadPoolExecutor(_AHEAD, thread_name_prefix="csv") as workers,
        ):
            waiting: deque[tuple[Callable[[], _Parsed], Future[_Parsed]]] = deque()
            for start, stop in lines.places(progress):
                work = partial(self._parsed, lines, start, stop)
                waiting.append((work, workers.submit(work)))
                if len(waiting) > _AHEAD:
                    yield self._next(*waiting.popleft())
            while waiting:
                yield self._next(*waiting.popleft())

    def _next(self, work: Callable[[], _Parsed], done: Future[_Parsed]) -> RowBlock:
        try:
            block, stamps = done.result()
        except InputError:
            # Blocks are parsed out of order: only here is it known which line this one starts at.
            block, stamps = work()
        if stamps is not None:
            assert self._stamps is not None
            times = _pieces(self._stamps.in_seconds(stamps, self._line))
            block = RowBlock(block.rows, [*block.columns, times], time_facts(times))
        self._line += block.rows
        return block

    def _parsed(self, lines: LineBlocks, start: int, stop: int) -> _Parsed:
        """The rows of a block, wherever it lies; its stamps, which follow on others, as text."""
        block = lines.read(start, stop)
        frame = self._parse(block)
        self._check_ragged(block, frame)
        columns = [_pieces(frame[str(column)]) for column in self._numbers]
        if any(np.isinf(piece).any() for pieces in columns for piece in pieces):
            raise self._find_fault(block) or self._unreadable(block)
        for pieces, factor in zip(columns, self._factors, strict=True):
            if factor != 1.0:
                pieces[:] = [piece * factor for piece in pieces]
        if self._stamps is not None:
            return RowBlock(frame.height, columns, None), frame[str(self._plan.time)]
        times = time_facts(columns[-1]) if self._plan.time is not None else None
        return RowBlock(frame.height, columns, times), None

    def _parse(self, block: bytes) -> pl.DataFrame:
        if self._padded:
            block = _PADDED.sub(rb"\1", block)
        try:
            return self._read(block)
        except (pl.exceptions.PolarsError, pl.exceptions.PanicException) as error:
            fault = self._find_fault(block)
            if fault is not None:
                raise fault from error
            if not self._padded:
                self._padded = True
                return self._parse(block.strip(b" "))
            raise self._unreadable(block) from error

    def _read(self, block: bytes) -> pl.DataFrame:
        return pl.read_csv(
            block,
            has_header=False,
            schema=self._schema,
            columns=self._columns,
            separator=self._plan.separator,
            decimal_comma=self._plan.decimal == ",",
            quote_char='"' if self._plan.quoted else None,
            null_values=None,
        )

    def _check_ragged(self, block: bytes, frame: pl.DataFrame) -> None:
        """Polars fills short rows with nulls: count the separators where the last field has any."""
        last = str(len(self._plan.names) - 1)
        if last in frame.columns and frame[last].null_count() == 0:
            return
        due = (len(self._plan.names) - 1) * frame.height
        found = np.count_nonzero(np.frombuffer(block, dtype=np.uint8) == ord(self._plan.separator))
        if found != due:
            fault = self._find_fault(block)
            if fault is not None:
                raise fault

    def _unreadable(self, block: bytes) -> InputError:
        last = self._line + block.count(b"\n")
        return file_error(
            self._plan.path,
            f"lines {self._line} to {last} hold something that cannot be read as numbers",
            "correct them, or export the file again",
        )

    def _find_fault(self, block: bytes) -> InputError | None:
        return find_fault(self._plan, block, self._line)


def _pieces(column: pl.Series) -> list[Floats]:
    """A column as it lies in memory, in the parts that it was parsed in; NaN where it has none."""
    return [piece.to_numpy() for piece in column.get_chunks() if len(piece)]

"""The rows of a CSV file as text: blocks of whole lines, found by one thread and read by many."""

from __future__ import annotations

from collections.abc import Iterator
from threading import Lock

from analysis.jobs import Progress

from .csv_plan import CsvPlan
from .wording import file_error, system_error

BLOCK_BYTES = 8 * 1024 * 1024
_WINDOW = 64 * 1024
_LONGEST_LINE = 4 * 1024 * 1024


class LineBlocks:
    """An open file, cut into whole lines; used in a `with` statement.

    Raises:
        InputError: from every method, when the file cannot be read.
    """

    def __init__(self, plan: CsvPlan) -> None:
        self._plan = plan
        try:
            self._file = plan.path.open("rb")
        except OSError as error:
            raise system_error(plan.path, error, "reading it") from error
        self._lock = Lock()

    def __enter__(self) -> LineBlocks:
        return self

    def __exit__(self, *_: object) -> None:
        self._file.close()

    def places(self, progress: Progress) -> Iterator[tuple[int, int]]:
        """Where each block starts and ends in the file, in bytes: about `BLOCK_BYTES` at most.

        Blank lines at the end of the file are left out, and the last line break with them.

        Raises:
            InputError: for a line that never ends.
            JobCancelled: through `progress`.
        """
        plan = self._plan
        at, what = plan.data_offset, f"reading {plan.path.name}"
        last = self._end_of_rows(at, plan.size)
        # Growing ones first: parsing starts sooner, and threads that began together with blocks of
        # one length would all be reading at once, and none parsing, all through the file.
        growth = max(BLOCK_BYTES // 4, 1)
        length = growth
        while at < last:
            progress.report(at / plan.size, what)
            cut = self._cut(at, at + length, last)
            length = min(length + growth, BLOCK_BYTES)
            yield at, cut
            at = cut

    def read(self, start: int, stop: int) -> bytes:
        """The bytes from `start` up to `stop`; from any thread.

        A block is read by who parses it: it is still in that core's cache then, and each thread
        gets back the memory that its block before was in, which is new to nobody.
        """
        # A lock in place of `os.pread`, which Windows does not have.
        with self._lock:
            try:
                self._file.seek(start)
                return self._file.read(stop - start)
            except OSError as error:
                raise system_error(self._plan.path, error, "reading it") from error

    def _end_of_rows(self, start: int, end: int) -> int:
        """Where the last line that is not blank ends, its line break left out."""
        while end > start:
            first = max(start, end - _WINDOW)
            filled = len(self.read(first, end).rstrip(b"\r\n "))
            if filled:
                return first + filled
            end = first
        return start

    def _cut(self, start: int, end: int, last: int) -> int:
        """Behind the last line break from `start` to `end`, or behind the next one after it."""
        if end >= last:
            return last
        while end > start:
            first = max(start, end - _WINDOW)
            found = self.read(first, end).rfind(b"\n")
            if found >= 0:
                return first + found + 1
            end = first
        line, stop, _ = self.read(start, start + _LONGEST_LINE).partition(b"\n")
        if len(line + stop) == _LONGEST_LINE:
            raise file_error(self._plan.path, "a line never ends", "a capture has one row a sample")
        return min(start + len(line + stop), last)

"""Reading a capture from CSV (contract, section 3): one pass in blocks, then lazy like the rest."""

from __future__ import annotations

from pathlib import Path

from analysis.jobs import Progress
from analysis.model.capture import Capture, Channel, SampleSource

from .access import plain_file_size
from .capture_facts import check_start, started_at_warning
from .csv_even import TimeFacts
from .csv_head import read_head
from .csv_layout import CsvLayout
from .csv_plan import CsvPlan, plan_csv
from .csv_rows import RowReader
from .csv_store import ColumnStore
from .csv_times import check_against_rate, rate_from_times
from .wording import file_error


def open_csv(path: Path, layout: CsvLayout | None, progress: Progress) -> Capture:
    """Read a CSV file through once and open what it holds as a capture.

    With `layout` left out the file must follow the contract. Memory stays constant: what is more
    than 64 MiB of numbers goes to a scratch file that ends with the capture.

    Raises:
        InputError: names the line where one is at fault.
        JobCancelled: through `progress`.
    """
    plan = plan_csv(read_head(path, plain_file_size(path)), layout)
    reader = RowReader(plan)
    store = ColumnStore(len(plan.channels) + (plan.time is not None))
    facts: list[TimeFacts] = []
    try:
        for block in reader.blocks(progress):
            store.append(block.columns)
            if block.times is not None:
                facts.append(block.times)
        if store.rows == 0:
            raise file_error(path, "there is no row of data", "export it with the samples")
        return _capture(plan, reader.first_stamp, store, facts)
    except BaseException:
        store.close()
        raise


def _capture(
    plan: CsvPlan, first_stamp: str | None, store: ColumnStore, facts: list[TimeFacts]
) -> Capture:
    sources = store.finish()
    rate, start = _rate_and_start(plan, sources, facts)
    channels = {
        planned.id: Channel(planned.id, rate, source, start)
        for planned, source in zip(plan.channels, sources, strict=False)
    }
    started_at = plan.attributes.get("started_at", "") or first_stamp or ""
    warning = started_at_warning(started_at)
    return Capture(
        name=plan.path.name,
        channels=channels,
        path=plan.path,
        title=plan.attributes.get("title", ""),
        started_at=started_at,
        notes=plan.attributes.get("notes", ""),
        setup_toml=plan.attributes.get("setup"),
        warnings=(warning,) if warning else (),
        closer=store.close,
    )


def _rate_and_start(
    plan: CsvPlan, sources: list[SampleSource], facts: list[TimeFacts]
) -> tuple[float, float]:
    rate, start = plan.sample_rate_hz, plan.start_s or 0.0
    if plan.time is None:
        assert rate is not None  # the plan saw to it
        return rate, start
    times = sources[-1]
    if rate is None:
        rate = rate_from_times(plan, times, facts)
    else:
        check_against_rate(plan, times, facts, rate)
    if plan.start_s is None:
        start = check_start(plan.path, "the times give: ", float(times.read(0, 1)[0]))
    return rate, start

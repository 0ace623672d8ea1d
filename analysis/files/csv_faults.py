"""What is wrong in a block of rows that cannot be read: only looked for when something is."""

from __future__ import annotations

from analysis.model.errors import InputError

from .csv_plan import SAY_THE_COLUMNS, CsvPlan, is_number, split_row
from .wording import file_error, one_line


def find_fault(plan: CsvPlan, block: bytes, first_line: int) -> InputError | None:
    """The first line of a block that is no row of the table, as an error; `None` when all are."""
    numbers = {channel.column for channel in plan.channels}
    if plan.time is not None and plan.time_unit != "stamp":
        numbers.add(plan.time)
    for line, raw in enumerate(block.rstrip(b"\r\n").split(b"\n"), first_line):
        where = f"line {line}"
        if b"\0" in raw:
            return file_error(
                plan.path, f"{where} holds a NUL byte", "export the file again as plain text"
            )
        try:
            text = raw.decode("utf-8")
        except UnicodeDecodeError:
            return file_error(
                plan.path, f"{where} is not UTF-8 text", "save it again with the encoding UTF-8"
            )
        fields = split_row(text, plan.separator)
        if len(plan.names) > 1 and not text.strip():
            return file_error(plan.path, f"{where} is empty", "take it out")
        if len(fields) != len(plan.names) and len(plan.names) > 1:
            return file_error(
                plan.path,
                f"{where} has {len(fields)} fields in place of {len(plan.names)}",
                "complete or correct the row",
            )
        for column in sorted(numbers):
            words = _number_fault(fields[column] if column < len(fields) else "", plan.decimal)
            if words:
                return file_error(
                    plan.path,
                    f"{where}, column '{one_line(plan.names[column], 40)}': {words}",
                    "correct it, or " + SAY_THE_COLUMNS + _option(fields[column], plan) + ")",
                )
    return None


def _number_fault(field: str, decimal: str) -> str | None:
    field = field.strip()
    if not field:
        return None
    shown = one_line(field, 30)
    if not is_number(field) or ("," in field and decimal != ","):
        return f"'{shown}' is no number"
    plain = field.replace(",", ".").lower()
    if "inf" in plain or abs(float(plain)) == float("inf"):
        return f"'{shown}' is infinite"
    return None


def _option(field: str, plan: CsvPlan) -> str:
    """What is likely to mend it: a decimal comma not seen in the first rows, or a text column."""
    if "," in field and plan.separator != "," and is_number(field):
        return "--decimal ,"
    return "--columns NAME=ID,…"

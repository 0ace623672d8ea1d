"""Tables of plain text with aligned columns."""

from __future__ import annotations

from collections.abc import Sequence


def text_table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> list[str]:
    """Lines of a table: the first column flush left, the others flush right, two spaces between.

    Args:
        head: one heading a column.
        rows: one text a column each.
    """
    lines = [list(head), *(list(row) for row in rows)]
    widths = [max(len(line[i]) for line in lines) for i in range(len(head))]
    out = []
    for line in lines:
        cells = [line[0].ljust(widths[0])]
        cells += [cell.rjust(width) for cell, width in zip(line[1:], widths[1:], strict=True)]
        out.append("  ".join(cells).rstrip())
    return out

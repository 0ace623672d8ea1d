"""What the first capture needs is loaded while nothing else is to be done."""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from .runner import JobProgress

_NEEDED = (
    "analysis.files.open",
    "analysis.files.hdf5_read",
    "analysis.files.setup_read",
    "analysis.files.setup_find",
    "scipy.ndimage",
    "analysis.views.moment",
    "analysis.views.timeline",
)
"""Together half a second: not before there is a window, and not when a capture is waited for.

What is missing or broken among them is told when it is needed.
"""


def load_libraries(progress: JobProgress) -> None:
    """Import them, in the background; stops between two of them when asked to."""
    for number, name in enumerate(_NEEDED):
        progress.report(number / len(_NEEDED))
        importlib.import_module(name)

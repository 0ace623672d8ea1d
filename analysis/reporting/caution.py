"""The caution that goes with every reading."""

from __future__ import annotations

from typing import Final

CAUTION: Final = (
    "For review only: Runtrue is no protection system. Limits and settings belong to the "
    "machine's owner."
)

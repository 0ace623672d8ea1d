"""Fixtures for every test. Nothing of a test may end up in the user's home."""

from __future__ import annotations

import os

# Before Qt is imported anywhere: no test needs a screen.
os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

"""Marks of findings and outcomes: a shape, a word, and the role that the style sheet colours."""

from __future__ import annotations

from typing import Final

FINDINGS: Final = {
    "suggestion": ("→", "to weigh", "subtitle"),
    "in_order": ("✓", "in order", "normal"),
    "look": ("▲", "look at it", "alarm"),
    "against": ("✗", "against it", "trip"),
    "unknown": ("?", "not known", "unknown"),
}
"""Of guidance: shape, word, role."""

OUTCOMES: Final = {
    "pass": ("✓", "pass", "normal"),
    "fail": ("✗", "fail", "trip"),
    "not done": ("–", "not done", "unknown"),
    "not found": ("?", "not found", "alarm"),
    "information": ("·", "information", "subtitle"),
}
"""Of the steps of a check: shape, word, role."""

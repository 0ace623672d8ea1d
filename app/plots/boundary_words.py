"""How far a setting is from acting, in words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from .wording import length_text

if TYPE_CHECKING:
    from analysis.model.replay_results import Margin
    from analysis.model.units import LengthUnit

    from .limit_words import Side


def margin_words(margin: Margin | None, unit: LengthUnit) -> str:
    """`acts, by 3.0 µm and 0.55 s`, `does not act, by 1.2 µm`, or that nothing can be said."""
    if margin is None or (margin.level_um is None and margin.delay_s is None):
        return "cannot be judged"
    by = []
    if margin.level_um is not None:
        by.append(length_text(abs(margin.level_um), unit))
    if margin.delay_s is not None:
        by.append(f"{abs(margin.delay_s):.2f} s")
    return f"{'acts' if margin.acts else 'does not act'}, by {' and '.join(by)}"


def margin_on(margins: Sequence[Margin], side: Side) -> Margin | None:
    """The margin on one side."""
    for margin in margins:
        if margin.side == side:
            return margin
    return None

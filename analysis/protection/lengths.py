"""How lengths are written in the sentences of this room, in the reader's unit."""

from __future__ import annotations

from analysis.model.units import LengthUnit


def length_text(um: float, unit: LengthUnit, suffix: str = "") -> str:
    """A length with its unit: `125 µm`, `131.2 µm p-p`, `4.92 mil`; `suffix` comes after it."""
    if unit is LengthUnit.UM and (abs(um) >= 1000.0 or abs(um - round(um)) < 0.005):
        number = f"{um:.0f}"
    else:
        number = f"{um * unit.per_um:.{unit.decimals}f}"
    # A sign without a size says nothing; the trade's true minus sign.
    number = number.removeprefix("-") if float(number) == 0.0 else number.replace("-", "−")
    return f"{number} {unit.value}{' ' + suffix if suffix else ''}"


def names_text(names: tuple[str, ...] | list[str]) -> str:
    """Names as a reader lists them: `A`, `A and B`, `A, B and C`."""
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} and {names[-1]}"

"""What a reader says of each channel, and the setup that it makes. No widgets here."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final, Literal

from pydantic import ValidationError

from analysis.files.setup_read import parse_setup
from analysis.files.setup_write import setup_to_toml
from analysis.model.errors import SetupError
from analysis.model.setup import Setup
from analysis.model.units import UM_PER_MIL

Role = Literal["radial", "axial", "reference", "ignore"]

COMMON_SCALE_FACTOR: Final = "200"
"""mV/mil. Common practice for the usual probes against the usual steel (API 670 Table 1 from
memory); the chain's own certificate comes first."""

_REFERENCE = re.compile(r"ref|key|phase|tach|trig|pulse|mark", re.IGNORECASE)
_AXIAL = re.compile(r"ax|thr|(?:^|[_\-\s])z\d*$", re.IGNORECASE)
_LETTER = re.compile(r"(?:(?<=[\W_])|^)([xy])\d*(?=[\W_]|$)|([xy])\d*$", re.IGNORECASE)
"""An x or y that stands alone, or at the end of a name."""


@dataclass(frozen=True)
class ChannelRow:
    """One channel as described: texts as they are typed."""

    channel: str
    role: Role
    angle: str = ""
    scale_factor: str = COMMON_SCALE_FACTOR
    linear_range: str = ""
    plane: str = ""


def guess_rows(channels: Iterable[str]) -> tuple[ChannelRow, ...]:
    """A first description from the channels' names; the reader sees and mends it.

    X is taken for 45° right, Y for 45° left; radial channels that come one after the other with the
    same name but for the last letter are a plane.
    """
    names = list(channels)
    references = [name for name in names if _REFERENCE.search(name)]
    rows: list[ChannelRow] = []
    for name in names:
        letter = _LETTER.search(name)
        if name in references:
            role: Role = "reference" if name == references[0] else "ignore"
            rows.append(ChannelRow(name, role, scale_factor=""))
        elif letter is None:
            rows.append(ChannelRow(name, "axial" if _AXIAL.search(name) else "radial"))
        else:
            angle = "45" if letter[0][0] in "xX" else "-45"
            stem = (name[: letter.start()] + name[letter.end() :]).strip(" _-.")
            rows.append(ChannelRow(name, "radial", angle, plane=stem or "Plane 1"))
    complete = {
        row.plane for row in rows if row.plane and sum(r.plane == row.plane for r in rows) == 2
    }
    return tuple(row if row.plane in complete else replace(row, plane="") for row in rows)


def rows_of_setup(channels: Iterable[str], setup: Setup) -> tuple[ChannelRow, ...]:
    """The description that a setup amounts to; scale factors in mV/mil."""
    probes = {probe.channel: probe for probe in setup.probe}
    planes = {name: plane.name for plane in setup.plane for name in plane.probes}
    reference = setup.phase_reference.channel if setup.phase_reference else None
    rows = []
    for channel in channels:
        probe = probes.get(channel)
        if probe is None:
            role: Role = "reference" if channel == reference else "ignore"
            rows.append(ChannelRow(channel, role, scale_factor=""))
            continue
        ends = probe.linear_range_um
        rows.append(
            ChannelRow(
                channel,
                probe.kind,
                "" if probe.angle_deg is None else f"{probe.angle_deg:g}",
                f"{probe.scale_factor_v_per_um * 1000.0 * UM_PER_MIL:.5g}",
                "" if ends is None else f"{ends[0]:g} to {ends[1]:g}",
                planes.get(probe.name, ""),
            )
        )
    return tuple(rows)


def setup_of_rows(
    rows: Sequence[ChannelRow],
    *,
    rotation: str,
    scale_unit: Literal["mil", "um"],
    title: str = "",
) -> tuple[Setup | None, tuple[str, ...]]:
    """The setup that the rows describe, or everything that is wrong with them, a sentence each."""
    problems: list[str] = []
    references = [row.channel for row in rows if row.role == "reference"]
    if len(references) > 1:
        problems.append(
            f"Only one channel can be the phase reference, not {', '.join(references)}."
        )
    probes = [_probe_table(row, scale_unit, problems) for row in rows if _is_probe(row)]
    if not probes:
        problems.append("No channel is a probe: give at least one the role of a radial probe.")
    data: dict[str, Any] = {
        "version": 1,
        "machine": {"title": title, "rotation": rotation},
        "probe": probes,
        "plane": _plane_tables(rows, problems),
    }
    if references:
        data["phase_reference"] = {"channel": references[0]}
    if problems:
        return None, tuple(problems)
    try:
        setup = Setup.model_validate(data)
        # The checks between tables are those of every other setup.
        parse_setup(setup_to_toml(setup), "description")
    except ValidationError as error:
        return None, tuple(f"{_place(e['loc'], rows)}: {e['msg']}." for e in error.errors())
    except SetupError as error:
        return None, tuple(str(issue) for issue in error.issues)
    return setup, ()


def number_of(text: str) -> float | None:
    """A number as people type it, with point or comma."""
    try:
        return float(text.strip().replace("−", "-").replace(",", "."))
    except ValueError:
        return None


def _is_probe(row: ChannelRow) -> bool:
    return row.role in ("radial", "axial")


def _probe_table(row: ChannelRow, scale_unit: str, problems: list[str]) -> dict[str, Any]:
    table: dict[str, Any] = {"name": row.channel, "channel": row.channel, "kind": row.role}
    factor = number_of(row.scale_factor)
    if factor is None or factor <= 0.0:
        problems.append(
            f"{row.channel}: the scale factor must be a number above zero, such as 200 mV/mil."
        )
    else:
        table[f"scale_factor_mv_per_{scale_unit}"] = factor
    if row.role == "radial" and row.angle.strip():
        angle = number_of(row.angle)
        if angle is None:
            problems.append(f"{row.channel}: the angle must be a number of degrees, such as -45.")
        else:
            table["angle_deg"] = angle
    if row.linear_range.strip():
        ends = [number_of(part) for part in re.split(r"\s*(?:to|;|…|\.\.)\s*", row.linear_range)]
        if len(ends) != 2 or None in ends:
            problems.append(
                f"{row.channel}: write the linear range as two µm, such as 250 to 2280."
            )
        else:
            table["linear_range_um"] = ends
    return table


def _plane_tables(rows: Sequence[ChannelRow], problems: list[str]) -> list[dict[str, Any]]:
    members: dict[str, list[ChannelRow]] = {}
    for row in rows:
        if row.role == "radial" and row.plane.strip():
            members.setdefault(row.plane.strip(), []).append(row)
    for name, found in members.items():
        if len(found) != 2:
            problems.append(
                f"Plane {name}: two radial probes make a plane, it has {len(found)}. "
                "Give both the same plane name, or none."
            )
        for row in found:
            if not row.angle.strip():
                problems.append(f"{row.channel}: a probe of a plane needs its angle.")
    return [
        {"name": name, "probes": [row.channel for row in found]}
        for name, found in members.items()
        if len(found) == 2
    ]


def _place(where: Sequence[int | str], rows: Sequence[ChannelRow]) -> str:
    probes = [row.channel for row in rows if _is_probe(row)]
    if len(where) > 1 and where[0] == "probe" and isinstance(where[1], int):
        return probes[where[1]]
    return ".".join(str(part) for part in where)

"""The revolution table in the cache, so that a capture opened again shows its timeline at once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.model.capture import Capture
from analysis.model.results import ProbeRevolutions, RevolutionTable
from analysis.model.setup import Setup

from .overview_cache import CacheEntry, OverviewCache
from .overview_key import capture_key, joined_key


def table_key(
    capture: Capture,
    setup: Setup,
    *,
    orders: tuple[int, ...],
    speed_rpm: float | None,
    method: str,
) -> str | None:
    """Key of the table of the whole capture; `None` when the capture cannot be cached.

    Limits, relays and current outputs are left out of the setup: they judge a table, they do not
    make it.
    `method` stands for the program text that makes it (`overview_key.method_of`).
    """
    of_capture = capture_key(capture)
    if of_capture is None:
        return None
    made_by = setup.model_dump_json(exclude={"limit", "relay", "output"})
    return joined_key("table", of_capture, made_by, orders, speed_rpm, method)


def store_table(cache: OverviewCache, key: str, table: RevolutionTable) -> bool:
    """Keep a table; tells whether it was kept."""
    arrays: dict[str, NDArray[Any]] = {}
    facts: dict[str, Any] = {"table": _packed(table, "table", arrays), "probes": []}
    for index, (name, probe) in enumerate(table.probes.items()):
        facts["probes"].append([name, _packed(probe, str(index), arrays)])
    return cache.store(key, CacheEntry(arrays, facts))


def load_table(cache: OverviewCache, key: str) -> RevolutionTable | None:
    """The table kept under that key, its arrays read-only; `None` when there is none in order."""
    entry = cache.load(key)
    if entry is None:
        return None
    try:
        probes = {
            name: ProbeRevolutions(**_unpacked(facts, str(index), entry.arrays))
            for index, (name, facts) in enumerate(entry.facts["probes"])
        }
        return RevolutionTable(
            **_unpacked(entry.facts["table"], "table", entry.arrays), probes=probes
        )
    except (KeyError, TypeError, ValueError):
        return None


def _packed(result: Any, prefix: str, arrays: dict[str, NDArray[Any]]) -> dict[str, Any]:
    """Arrays into `arrays`, by the names of the fields; what else there is as facts for JSON."""
    facts: dict[str, Any] = {}
    for field in fields(result):
        value = getattr(result, field.name)
        if field.name == "probes":
            continue
        if isinstance(value, np.ndarray):
            arrays[f"{prefix}/{field.name}"] = value
        elif isinstance(value, Mapping):
            facts[field.name] = {"orders": list(value)}
            for order, values in value.items():
                arrays[f"{prefix}/{field.name}/{order}"] = values
        else:
            facts[field.name] = value
    return facts


def _unpacked(
    facts: Mapping[str, Any], prefix: str, arrays: Mapping[str, NDArray[Any]]
) -> dict[str, Any]:
    values: dict[str, Any] = {}
    for name, array in arrays.items():
        room, _, field = name.partition("/")
        if room == prefix and "/" not in field:
            values[field] = array
    for field, value in facts.items():
        if isinstance(value, dict):
            values[field] = {n: arrays[f"{prefix}/{field}/{n}"] for n in value["orders"]}
        else:
            values[field] = tuple(value) if isinstance(value, list) else value
    return values

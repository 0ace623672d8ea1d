"""The one sentence that tells the story of a capture's positions, before everything else."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from analysis.model.position_results import (
    Clip,
    Finding,
    HiddenPeak,
    ProbePosition,
    RangeUse,
)
from analysis.model.units import LengthUnit
from analysis.protection.lengths import length_text


def headline_of(
    probes: Mapping[str, ProbePosition],
    findings: Sequence[Finding],
    unit: LengthUnit = LengthUnit.UM,
) -> Finding | None:
    """What to read first: the worst finding with what it means for p-p, or that all is in order.

    Args:
        probes: the probes that were looked at.
        findings: what `findings_of` found, worst first.
        unit: the unit of lengths in the sentence.

    Returns:
        A finding whose `numbers` hold those of the one it stands on; `None` where nothing is known.
    """
    worst = findings[0] if findings else None
    if worst is None:
        return None
    probe = probes.get(worst.subject)
    if worst.severity == "severe" and probe is not None:
        return _told_whole(probe, worst, unit) or worst
    if worst.severity in ("severe", "warning"):
        return worst
    return _in_order(probes, unit) or worst


def _told_whole(probe: ProbePosition, worst: Finding, unit: LengthUnit) -> Finding | None:
    """Where the probe sits, what leaves the range and since when, and what that makes of p-p."""
    use = probe.capture or probe.chosen or probe.moment
    if use is None or probe.linear_range_um is None or use.nearer_end is None:
        return None
    low, high = probe.linear_range_um
    end = use.nearer_end
    away = high - use.mean_um if end == "far" else use.mean_um - low
    where = f"the {end} end of its linear range"
    if away >= 0.0:
        sits = f"{probe.name} sits {length_text(away, unit)} from {where}"
    else:
        sits = f"{probe.name} sits {length_text(-away, unit)} beyond {where}"
    clips = [clip for clip in probe.clips or probe.moment_clips if clip.end == end]
    parts = [_outside_words(use, unit), *(_clip_words(clip) for clip in clips[:1])]
    parts = [each for each in parts if each]
    if not parts:
        return None
    means = _peak_to_peak_words(probe.hidden or probe.moment_hidden, bool(clips), unit)
    sentence = f"{sits}: {' and '.join(parts)}{means}"
    return Finding(worst.severity, worst.topic, worst.subject, sentence, worst.numbers)


def _outside_words(use: RangeUse, unit: LengthUnit) -> str:
    if not use.stretches or use.margin_um is None:
        return ""
    what = "the gap itself goes" if any(s.mean_outside for s in use.stretches) else "its peaks go"
    return (
        f"since {use.stretches[0].span.start_s:.2f} s {what} past it in "
        f"{_percent(use.outside_turns, use.turns)} of the turns, by up to "
        f"{length_text(-use.margin_um, unit)}"
    )


def _clip_words(clip: Clip) -> str:
    """What cuts the waveform, and since when."""
    since = "" if clip.first_s is None else f"since {clip.first_s:.2f} s "
    if clip.cause == "fault_limit":
        return f"{since}peaks count as a circuit fault, which voids their turns"
    by = "by the recorder's converter" if clip.cause == "converter" else "level"
    return f"{since}the waveform is cut {by}"


def _peak_to_peak_words(hidden: HiddenPeak | None, cut: bool, unit: LengthUnit) -> str:
    if hidden is not None and hidden.is_clear:
        read, there = (
            length_text(round(each, 1), unit, "p-p")
            for each in (hidden.read_um, hidden.estimated_um)
        )
        return f"; p-p reads low then: {read} where some {there} were"
    if cut:
        return "; p-p reads low then"
    return "; p-p is not to be relied on then"


def _in_order(probes: Mapping[str, ProbePosition], unit: LengthUnit) -> Finding | None:
    """That every probe stays inside, and which comes nearest to an end."""
    uses = {name: p.capture or p.chosen or p.moment for name, p in probes.items()}
    known = {
        name: (use, use.margin_um)
        for name, use in uses.items()
        if use is not None and use.margin_um is not None
    }
    if not known or len(known) < len(uses):
        return None
    name = min(known, key=lambda each: known[each][1])
    use, margin = known[name]
    share = use.near_share if use.nearer_end == "near" else use.far_share
    numbers = {"margin_um": margin} | ({} if share is None else {"share": share})
    many = "Both" if len(known) == 2 else f"All {len(known)}"
    who = "The probe stays" if len(known) == 1 else f"{many} probes stay"
    their = "its linear range" if len(known) == 1 else "their linear ranges"
    percent = "" if share is None else f" ({100.0 * share:.0f} % of its range)"
    sentence = (
        f"{who} inside {their}; {name} comes nearest to an end, "
        f"{length_text(margin, unit)}{percent} from the {use.nearer_end} one"
    )
    at = use.min_at_s if use.nearer_end == "near" else use.max_at_s
    return Finding("in_order", "margin", name, sentence, numbers | {"at_s": at})


def _percent(part: int, whole: int) -> str:
    """A share of turns; never 0 for some of them."""
    share = 100.0 * part / max(whole, 1)
    if 0.0 < share < 0.1:
        return "under 0.1 %"
    return f"{share:.{1 if share < 9.95 else 0}f} %"

"""What a reader has ticked off of a proof test: readings, result and remark of each step."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from analysis.model.proof import ProofStep, StepResult
from analysis.protection.proof_test import reading_agrees

if TYPE_CHECKING:
    from analysis.model.record import Outcome


@dataclass
class Entry:
    """One step as far as it has been done. `chosen` is a result given by hand."""

    readings: dict[int, str] = field(default_factory=dict)
    chosen: Outcome | None = None
    remark: str = ""
    found: StepResult | None = None

    @property
    def touched(self) -> bool:
        """Whether there is anything to lose."""
        return bool(any(self.readings.values()) or self.chosen or self.remark or self.found)


class Entries:
    """The entries of a list of steps."""

    def __init__(self) -> None:
        self.steps: tuple[ProofStep, ...] = ()
        self._entries: list[Entry] = []

    def set_steps(self, steps: tuple[ProofStep, ...]) -> None:
        """Other steps; what was read in a step that is still the same stays."""
        kept = {
            replace(step, number=0): entry
            for step, entry in zip(self.steps, self._entries, strict=True)
        }
        self.steps = steps
        self._entries = [kept.get(replace(step, number=0), Entry()) for step in steps]

    def __getitem__(self, place: int) -> Entry:
        return self._entries[place]

    def take_found(self, results: tuple[StepResult, ...]) -> None:
        """What a captured test gave; results by hand stay as they are."""
        by_number = {result.number: result for result in results}
        for step, entry in zip(self.steps, self._entries, strict=True):
            found = by_number.get(step.number)
            # "by hand" of the check says nothing that is not known.
            entry.found = None if found is None or found.result == "not done" else found

    def agreements(self, place: int) -> list[bool | None]:
        """Of each reading of a step whether it is the expected one; `None`: not judged."""
        entry = self._entries[place]
        return [
            reading_agrees(expected, entry.readings.get(number, ""))
            for number, expected in enumerate(self.steps[place].expected)
        ]

    def outcome(self, place: int) -> Outcome:
        """The result of a step: given by hand, else by its readings, else from the capture."""
        entry = self._entries[place]
        if entry.chosen is not None:
            return entry.chosen
        agreements = self.agreements(place)
        if False in agreements:
            return "fail"
        if agreements and all(agreements):
            return "pass"
        return entry.found.result if entry.found is not None else "not done"

    def results(self) -> tuple[StepResult, ...]:
        """Every step as it stands, for the record."""
        return tuple(self._result(place) for place in range(len(self.steps)))

    def touched(self) -> bool:
        """Whether anything was ticked off or found."""
        return any(entry.touched for entry in self._entries)

    def _result(self, place: int) -> StepResult:
        step, entry = self.steps[place], self._entries[place]
        lines = [
            f"{expected.where}: {entry.readings[number]}"
            for number, expected in enumerate(step.expected)
            if entry.readings.get(number)
        ]
        found, lines_by_hand = entry.found, bool(lines)
        if found is not None:
            lines += [found.read] if found.read else []
        remarks = [entry.remark, found.remark if found is not None else ""]
        return StepResult(
            number=step.number,
            result=self.outcome(place),
            read="\n".join(lines),
            remark="; ".join(text for text in remarks if text),
            start_s=None if found is None else found.start_s,
            end_s=None if found is None else found.end_s,
            by_hand=bool(lines_by_hand or entry.chosen),
        )

"""A position that was derived from what instruments gave, where others were written by hand."""

from dataclasses import dataclass
from typing import Any

from registry.records.derivation import Derivation
from registry.records.survey import Survey
from registry.records.survey_body import survey_body
from registry.records.written_position import WrittenPosition

__all__ = ["SurveyedPosition"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SurveyedPosition:
    """What was measured, and the position that follows from it."""

    survey: Survey
    derivation: Derivation

    @property
    def text(self) -> str:
        """What was received, in one line: it stands where others have the words that somebody typed."""
        logged = self.survey.logged
        if logged is None:
            return self.derivation.steps[0].sentence
        names = ", ".join(file.name for file in logged.files) or "a receiver's log"
        return f"{len(logged.fixes)} fixes of {names}, {logged.window}"

    @property
    def written(self) -> WrittenPosition:
        """The derived position, to be settled as a written one; the doubt by its digits is in its budget."""
        position = self.derivation.position
        return WrittenPosition(
            text=self.text,
            lat_deg=position.lat_deg,
            lon_deg=position.lon_deg,
            notation="nmea" if self.survey.logged is not None else "dd",
            frame=position.frame,
            epoch=position.epoch,
            stated_r95_m=position.r95_m,
            resolution_lat_deg=0.0,
            resolution_lon_deg=0.0,
            warnings=self.derivation.warnings,
        )

    @property
    def sentences(self) -> tuple[str, ...]:
        """How it was derived, one sentence for each step and one for the budget."""
        rows = "; ".join(f"{r.source} {r.size_m:.2f} m ({r.share:.0%})" for r in self.derivation.budget)
        return (
            *(f"{step.name.capitalize()}: {step.sentence}" for step in self.derivation.steps),
            f"Budget of the position (95 %): {rows}.",
        )

    def evidence(self) -> dict[str, Any]:
        """Give all of it as data for the journal: enough to derive the position again."""
        return {"inputs": survey_body(self.survey), **self.derivation.as_json()}

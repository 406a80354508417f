"""From a sounding to a charted depth: find the tide of its instant, then go down the chain."""

from dataclasses import dataclass
from typing import Any

from registry.actions.charted_depth import ChartedDepth
from registry.actions.derive_depth import DerivedDepth, derive_depth
from registry.actions.tide_at import WEATHER_U95_M, observed_tide, predicted_tide
from registry.errors import InvalidRecordError
from registry.measure.depth import BudgetTerm, resolution_term
from registry.records.depth_reading import ChartSounding
from registry.records.gauge_readings import GaugeReadings
from registry.records.quantity import Quantity
from registry.records.sounding import Sounding, reading_body, tide_body
from registry.records.tide_height import TideHeight

__all__ = ["SoundedDepth", "derive_sounding", "stated_tide"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundedDepth:
    """A charted depth with all that it was derived from."""

    sounding: Sounding
    derived: DerivedDepth
    #: As it was taken off; None for a depth off a chart.
    tide: TideHeight | None
    #: Of the site. Units: degrees.
    lat_deg: float

    @property
    def charted(self) -> ChartedDepth:
        """The depth as the rules and the registry want it."""
        depth = self.derived.depth
        return ChartedDepth(depth_m=depth.value_m, u95_m=depth.u95_m, basis=self.sentences)

    @property
    def tide_text(self) -> str:
        """Give the tide in a few words: as stated, or whether it was observed or predicted, and by whom."""
        if self.sounding.tide is not None:
            return self.sounding.tide.written
        return f"{self.tide.kind}, {self.tide.height_m:.2f} m by {self.tide.source}" if self.tide else ""

    @property
    def sentences(self) -> tuple[str, ...]:
        """The chain, one sentence a step; its budget, and the order that it meets."""
        found = self.derived
        chain = (
            f"Depth, {step.name}: {step.how}{f', {step.change_m:+.2f} m' if step.change_m else ''};"
            f" {step.depth_m:.2f} m."
            for step in found.steps
        )
        rows = "; ".join(f"{row.source} {row.u95_m:.2f} m ({row.share:.0%})" for row in found.budget)
        meets = f"meets S-44 order {found.order}" if found.order else "meets no order of S-44"
        return (
            *chain,
            *found.basis,
            f"Budget of the depth (95 %): {rows}.",
            f"Charted depth {found.depth.value_m:.2f} ± {found.depth.u95_m:.2f} m below {found.datum}:"
            f" {meets}.",
        )

    def evidence(self) -> dict[str, Any]:
        """Give all of it as data for the journal: enough to derive the depth again."""
        inputs = {
            "written": self.sounding.written,
            "reading": reading_body(self.sounding.reading),
            "read_at": self.sounding.at.isoformat(),
            "tide": tide_body(self.tide) if self.tide else None,
            "lat_deg": self.lat_deg,
            "files": dict(self.sounding.files),
        }
        return {"inputs": inputs, **self.derived.as_json()}


def derive_sounding(sounding: Sounding, *, datum: str, lat_deg: float) -> SoundedDepth:
    """
    Derive a charted depth from a sounding.

    Parameters
    ----------
    sounding : Sounding
        Reading and source of the tide.
    datum : str
        To chart the depth below.
    lat_deg : float
        Of the site; for gravity. Units: degrees.

    Raises
    ------
    InvalidRecordError
        If a tide is missing or counts from another datum, or the depth comes out above datum.
    NotFoundError
        If the station does not know the datum.
    TimeTextError
        If the gauge has no reading within an hour of the instant.
    QuantityError
        If a value is out of its range.
    """
    tide = _tide_of(sounding, datum)
    derived = derive_depth(sounding.reading, tide=tide, datum=datum, lat_deg=lat_deg)
    if derived.depth.value_m <= 0:
        what = f"A depth of {sounding.written} less the tide is above {datum}."
        raise InvalidRecordError(what, remedy="Check unit, datum and sign of the tide.")
    return SoundedDepth(sounding=sounding, derived=derived, tide=tide, lat_deg=lat_deg)


def stated_tide(tide: Quantity, *, u95: Quantity | None, datum: str) -> TideHeight:
    """
    Take a height of the tide that a person stated.

    Where from is not known: without a doubt of its own it is taken for no better than a prediction.
    """
    doubt = (
        BudgetTerm(source="tide as stated", u95_m=u95.value)
        if u95 is not None
        else BudgetTerm(source="tide as stated, usual (common practice, no source)", u95_m=WEATHER_U95_M)
    )
    digits = resolution_term(tide.resolution, "digits of the tide")
    return TideHeight(
        kind="stated",
        at=None,
        height_m=tide.value,
        datum=datum,
        source=f"{tide.written} as stated",
        terms=(doubt, digits),
    )


def _tide_of(sounding: Sounding, datum: str) -> TideHeight | None:
    source = sounding.tide_source
    if isinstance(sounding.reading, ChartSounding):
        if source is not None or sounding.tide is not None:
            what = "A depth off a chart is below its datum already, but a tide is given."
            raise InvalidRecordError(what, remedy="Leave the tide out, or say which instrument read it.")
        return None
    if source is None:
        return stated_tide(sounding.tide, u95=sounding.tide_u95, datum=datum) if sounding.tide else None
    if isinstance(source, GaugeReadings):
        return observed_tide(source, sounding.at, datum)
    return predicted_tide(source, sounding.at, datum)

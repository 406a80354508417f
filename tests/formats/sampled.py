"""A sample of modules, for tests of the files that it is written to."""

from dataclasses import replace
from datetime import UTC, date, datetime
from typing import Any

from registry.measure.decision import Verdict
from registry.records.inspection_sample import InspectionSample, SampledModule

DRAWN = datetime(2027, 3, 2, 15, 0, 0, 250_000, tzinfo=UTC)


def a_sampled_module(**changes: Any) -> SampledModule:
    """Give a module that is known to 3 m."""
    module = SampledModule(
        tag="MC-0001",
        placement_id="0badcafe-7",
        lat_deg=34.0208333,
        lon_deg=-77.3351667,
        r95_m=3.01,
        moved=False,
        depth_m=20.361,
        depth_u95_m=0.41,
        area_id="gannet-patch",
        verdict=Verdict.CONFORMING,
        placed_on=date(2026, 6, 14),
        weight=0.876,
        chance=0.51234,
    )
    return replace(module, **changes)


def a_sample(*modules: SampledModule, **changes: Any) -> InspectionSample:
    """Give a sample, by default of one sure and one doubtful module."""
    modules = modules or (
        a_sampled_module(),
        a_sampled_module(
            tag="MC-0002",
            lat_deg=34.03,
            r95_m=15.0,
            depth_m=None,
            depth_u95_m=None,
            verdict=Verdict.INCONCLUSIVE,
        ),
    )
    sample = InspectionSample(
        programme="Marram Coast Memorial Reefs",
        permit="HB-0417",
        seed="4711",
        size=len(modules),
        population=40,
        journal_head="ab" * 32,
        as_of=DRAWN,
        drawn_at=DRAWN,
        epoch=2027.16,
        chart_datum="MLLW",
        modules=modules,
        balance=0.081,
        course_m=1021.0,
        notes=("A note.",),
    )
    return replace(sample, **changes)

"""
Draft a burial-at-sea report: the fields that the United States Environmental Protection Agency asks for.

Sources
-------
Fields: the report form of EPA Region 1. Decimal degrees in WGS 84 and the last place of departure: EPA's
online form for burials at sea. That artificial reefs are outside the general permit: EPA's page on burial at
sea. All three were read in November 2026; an authority elsewhere may ask otherwise.
"""

from registry.actions.drafting import Drafting, contact
from registry.actions.publish_site import WGS84
from registry.measure.boundary import distance_to, signed_distance
from registry.measure.datum import decimal_year, resolve, transform
from registry.measure.decision import Verdict, at_least
from registry.measure.digits import metres_decimals
from registry.measure.uncertainty import combine
from registry.measure.units import metres_per
from registry.records.burial_form import FORM, LEAST_OFFSHORE
from registry.records.duty_draft import DraftField, DraftSection, DutyDraft, blank, filled
from registry.records.placement import Placement
from registry.records.position import Position
from registry.rules.wording import length_text

__all__ = ["draft_burial"]

#: No distance to a drawn line is told finer than this: how good the line is, nobody knows.
_FINEST_NMI_DECIMALS = 2
_NOT_HERE = "Leadline does not hold it"


def draft_burial(d: Drafting) -> DutyDraft:
    """
    Draft the report of one memorial.

    Parameters
    ----------
    d : Drafting
        Of a duty with at least one placement.

    Notes
    -----
    The contacts of a family are never read. The 3 nautical miles of the form are told for information: a
    limit that a permit states is judged by its own condition.
    """
    placement = d.register.placement(d.duty.placements[0])
    module = d.register.module(placement.tag)
    name = module.memorial.name if module.memorial else ""
    cautions = [
        "Private: it names a person who died. It goes to the authority and to nobody else.",
        "Fill in what Leadline does not hold, and check every line, before it is sent.",
        *placement.warnings,
    ]
    if len(d.duty.placements) > 1:
        cautions.append(
            f"{placement.tag} is recorded in {len(d.duty.placements)} places; this draft is about the first. "
            "Find out which is true before it is sent."
        )
    return d.paper(
        f"Burial-at-sea report, module {placement.tag}",
        (
            d.permit_section(),
            DraftSection(
                title="The deceased",
                fields=(
                    filled("Name of deceased", name),
                    blank("Date of birth", _NOT_HERE),
                    blank("Date of death", _NOT_HERE),
                    blank("Type of remains", "cremated or not cremated; the registry knows only the module"),
                    blank("Date of cremation", _NOT_HERE),
                    blank("Did the remains sink rapidly", "asked for remains that are not cremated"),
                ),
            ),
            DraftSection(title="The burial", fields=tuple(_where(d, placement))),
            DraftSection(
                title="Vessel and persons",
                fields=(
                    filled("Vessel", placement.vessel),
                    contact("Vessel's point of contact"),
                    blank("Port of departure", "the last place of departure"),
                    contact("Person responsible for the arrangements"),
                    contact("Family member or responsible party"),
                    blank("Burial or cremation permits", "attach copies"),
                ),
            ),
        ),
        addressee="",
        decides=FORM.warnings,
        cautions=cautions,
        private=True,
    )


def _where(d: Drafting, placement: Placement) -> list[DraftField]:
    """Give day, place, distance from the shore and depth."""
    home = placement.home.position
    local = placement.placed_at.astimezone(d.zone)
    epoch = decimal_year(placement.placed_at)
    out = transform(home.lon_deg, home.lat_deg, source=home.frame, target=WGS84, epoch=epoch, anywhere=True)
    r95_m = float(combine(home.r95_m, out.accuracy_m))
    lat, lon = d.write_position(
        float(out.lat_deg), float(out.lon_deg), frame=resolve("EPSG:4326"), notation="dd", r95_m=r95_m
    )
    frame = f"decimal degrees, WGS 84 (G2296, the same as ITRF2020) at epoch {epoch:.1f}"
    depth = (
        d.length(placement.charted_depth_m, placement.depth_u95_m)
        if placement.charted_depth_m is not None and placement.depth_u95_m is not None
        else ""
    )
    datum = f"of the seabed, below {d.permit.chart_datum}"
    return [
        filled("Date of burial", local.date().isoformat(), f"set down at {local:%H:%M %Z}, {d.zone.key}"),
        filled("Latitude", lat, frame),
        filled("Longitude", lon, frame),
        filled("Position known within", d.radius(r95_m), "radius that holds 95 %"),
        filled("Location", _location(d, home), f"module {placement.tag}, permit {d.permit.number}"),
        _offshore(d, placement),
        filled("Depth of water", depth, datum) if depth else blank("Depth of water", "no depth is recorded"),
    ]


def _location(d: Drafting, home: Position) -> str:
    """Say in which area of the permit a position lies, or how far outside the nearest."""
    inside_m, area_id = max(
        (float(signed_distance([home.lon_deg], [home.lat_deg], a.shape, a.edges).distance_m[0]), a.area_id)
        for a in d.permit.areas
    )
    if inside_m >= 0:
        return f"in permit area {area_id}"
    return f"{length_text(-inside_m, home.r95_m)} outside permit area {area_id}"


def _offshore(d: Drafting, placement: Placement) -> DraftField:
    """Measure the distance to the nearest recorded baseline; blank, with the reason, where there is none."""
    label = "Distance from shore"
    baselines = d.register.baselines()
    if not baselines:
        return blank(
            label, "no baseline is recorded: leadline baseline add; measure it on the official chart"
        )
    home = placement.home.position
    found = [
        (float(distance_to([home.lon_deg], [home.lat_deg], line.shape).distance_m[0]), line.name)
        for line in baselines
    ]
    distance_m, name = min(found)
    if distance_m < 0:
        return blank(label, f"the position lies on the land's side of baseline {name}: check both")
    nmi = metres_per("nmi")
    decimals = min(_FINEST_NMI_DECIMALS, metres_decimals(max(home.r95_m, 1e-3) / nmi))
    verdict = Verdict(int(at_least(distance_m, home.r95_m, LEAST_OFFSHORE.value_m)))
    said = {
        Verdict.CONFORMING: "farther than",
        Verdict.NONCONFORMING: "nearer than",
        Verdict.INCONCLUSIVE: "not to be told from",
    }[verdict]
    note = (
        f"to baseline {name}, along the ellipsoid; {said} the {LEAST_OFFSHORE.written} of the form "
        f"({LEAST_OFFSHORE.source}), for information"
    )
    return filled(label, f"{distance_m / nmi:.{decimals}f} nmi ({distance_m / 1000:.2f} km)", note)

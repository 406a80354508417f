"""What every draft needs: the duty, the permit as it was in force, the form asked for, who must decide."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Protocol
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from registry.actions.list_duties import list_duties, today
from registry.actions.record_sending import find_duty
from registry.actions.told_duties import declarations_of
from registry.measure.datum import ResolvedFrame, decimal_year, resolve, transform
from registry.measure.uncertainty import combine
from registry.ports import Register
from registry.records.duty import Duty
from registry.records.duty_draft import DraftField, DraftSection, DraftTable, DutyDraft, blank, filled
from registry.records.permit import LengthUnit, Notation, Permit, in_force_on
from registry.records.reported_value import reported_length

__all__ = ["Drafting", "WritePosition", "begin_draft", "contact"]

#: Said on every draft.
AN_AID = (
    "This is a draft made from the registry of the programme. Leadline has sent nothing, is no authority and "
    "claims no authority for any placement."
)
_NOTATIONS = {
    "dd": "decimal degrees",
    "ddm": "degrees and decimal minutes",
    "dms": "degrees, minutes, seconds",
}


class WritePosition(Protocol):
    """Writes latitude and longitude, or northing and easting on a grid."""

    def __call__(
        self, lat_deg: float, lon_deg: float, *, frame: ResolvedFrame, notation: Notation, r95_m: float
    ) -> tuple[str, str]:
        """Write them with the digits that the radius supports."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Drafting:
    """A draft in the making."""

    register: Register
    duty: Duty
    #: The version in force on the day that the duty is about.
    permit: Permit
    zone: ZoneInfo
    made_on: date
    write_position: WritePosition

    @property
    def frame(self) -> ResolvedFrame:
        """The frame in which the permit's authority wants positions."""
        return resolve(self.permit.reporting.frame or self.permit.areas[0].frame)

    def form_words(self) -> str:
        """Say in which form positions and lengths are written."""
        frame = self.frame
        if frame.projected:
            return f"{frame.name} ({frame.code}), northing and easting in {frame.axis_unit}"
        epoch = f", epoch {frame.epoch:g}" if frame.epoch is not None else ""
        return f"{frame.name} ({frame.code}{epoch}), {_NOTATIONS[self.permit.reporting.notation]}"

    def coordinate_names(self) -> tuple[str, str]:
        """Name the two numbers of a position."""
        unit = self.frame.axis_unit
        return (
            (f"northing ({unit})", f"easting ({unit})") if self.frame.projected else ("latitude", "longitude")
        )

    def positions(
        self,
        lon_deg: NDArray[np.float64],
        lat_deg: NDArray[np.float64],
        r95_m: NDArray[np.float64],
        at: datetime,
    ) -> tuple[list[tuple[str, str]], str]:
        """
        Bring positions from the home frame to the one asked for, and write them.

        Parameters
        ----------
        lon_deg, lat_deg, r95_m : numpy.ndarray, shape (n,)
            In the home frame. Units: degrees, m.
        at : datetime.datetime
            When they held, for a frame in which the sea floor moves.

        Returns
        -------
        written : list of tuple of str
            Two texts for each.
        operation : str
            The datum operation used.
        """
        frame = self.frame
        home = self.register.programme().frame
        out = transform(
            lon_deg, lat_deg, source=home, target=frame.base, epoch=decimal_year(at), anywhere=True
        )
        radii = combine(r95_m, out.accuracy_m)
        written = [
            self.write_position(
                lat, lon, frame=frame, notation=self.permit.reporting.notation, r95_m=float(radius)
            )
            for lat, lon, radius in zip(
                np.atleast_1d(out.lat_deg).tolist(),
                np.atleast_1d(out.lon_deg).tolist(),
                np.atleast_1d(radii).tolist(),
                strict=True,
            )
        ]
        return written, out.operation

    def length(self, value_m: float, u95_m: float) -> str:
        """Write a measured length in the unit asked for, with its uncertainty; empty where unknown."""
        unit = self.permit.reporting.length_unit
        value, u95 = reported_length(value_m, u95_m, unit)
        if not value:
            return ""
        return f"{value} ± {u95} {unit} (95 %)" if u95 else f"{value} {unit}"

    def radius(self, r95_m: float) -> str:
        """Write a radius in metres and, where another unit is asked for, in that."""
        units: tuple[LengthUnit, ...] = ("m", self.permit.reporting.length_unit)
        written = [f"{reported_length(0.0, r95_m, unit)[1]} {unit}" for unit in dict.fromkeys(units)]
        return " or ".join(reversed(written))

    def paper(
        self,
        title: str,
        sections: Sequence[DraftSection],
        *,
        addressee: str | None = None,
        tables: Sequence[DraftTable] = (),
        decides: Sequence[str] = (),
        cautions: Sequence[str] = (),
        private: bool = False,
    ) -> DutyDraft:
        """Put the draft together, with the papers that the programme recorded and who must decide."""
        declared = declarations_of(self.register)
        declaration = declared.get(self.permit.number) or declared.get("")
        bases = declaration.bases if declaration else ()
        return DutyDraft(
            duty=self.duty,
            title=title,
            addressee=self.permit.authority if addressee is None else addressee,
            programme=self.register.programme().name,
            made_on=self.made_on,
            zone=self.zone.key,
            journal_head=self.register.head(),
            sections=tuple(sections),
            tables=tuple(tables),
            bases=tuple(f"{basis.kind}: {basis.document}" for basis in bases),
            decides=(
                f"Whether the placements were allowed, and whether this paper is enough, is for "
                f"{self.permit.authority} and the other offices that have a say to decide.",
                *decides,
            ),
            cautions=(AN_AID, *cautions),
            private=private,
        )

    def permit_section(self) -> DraftSection:
        """Say who reports under which permit, and why."""
        permit = self.permit
        return DraftSection(
            title="Who and why",
            fields=(
                filled("Programme", self.register.programme().name),
                filled("Holder of the permit", permit.holder)
                if permit.holder
                else blank("Holder of the permit"),
                filled(
                    "Permit",
                    permit.number,
                    f"of {permit.authority}, {permit.valid_from} to {permit.valid_to}",
                ),
                filled("Asked by", self.duty.cite, f"due on {self.duty.due_on}, days of {self.zone.key}"),
            ),
        )


def _known(label: str, value: str) -> DraftField:
    return filled(label, value) if value else blank(label)


def contact(label: str) -> DraftField:
    """Give a field for a person's contact, which Leadline never hands out."""
    return blank(label, "name, address, phone, e-mail")


def begin_draft(register: Register, duty_id: str, *, write_position: WritePosition) -> Drafting:
    """
    Find the duty and the version of its permit.

    Raises
    ------
    NotFoundError
        If there is no such duty.
    """
    on = today(register)
    # Work that is planned for a day to come is listed, too.
    duty = find_duty(list_duties(register, on=on).duties, duty_id)
    versions = register.permit_versions(duty.permit)
    return Drafting(
        register=register,
        duty=duty,
        permit=in_force_on(versions, duty.from_day or on),
        zone=ZoneInfo(register.programme().zone),
        made_on=on,
        write_position=write_position,
    )

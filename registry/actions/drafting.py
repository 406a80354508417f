"""What every draft needs: the duty, the permit as it was in force, the form asked for, who must decide."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

from registry.actions.area_corners import ReadPosition
from registry.actions.list_duties import list_duties, today
from registry.actions.record_sending import find_duty
from registry.actions.reporting_form import ReportingForm, WritePosition
from registry.actions.told_duties import declarations_of
from registry.ports import Register
from registry.records.duty import Duty
from registry.records.duty_draft import DraftField, DraftSection, DraftTable, DutyDraft, blank, filled
from registry.records.permit import LengthUnit, Permit, in_force_on
from registry.records.reported_value import reported_length

__all__ = ["Drafting", "begin_draft", "contact"]

#: Said on every draft.
AN_AID = (
    "This is a draft made from the registry of the programme. Leadline has sent nothing, is no authority and "
    "claims no authority for any placement."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Drafting:
    """A draft in the making."""

    register: Register
    duty: Duty
    #: The version in force on the day that the duty is about.
    permit: Permit
    zone: ZoneInfo
    made_on: date
    read_position: ReadPosition
    write_position: WritePosition

    @property
    def form(self) -> ReportingForm:
        """How the permit wants positions, at the day that the duty is about."""
        noon = datetime.combine(self.duty.from_day or self.made_on, time(12), tzinfo=UTC)
        return ReportingForm(self.permit, noon, self.write_position)

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
        dates = f"{permit.valid_from} to {permit.valid_to}"
        return DraftSection(
            title="Who and why",
            fields=(
                filled("Programme", self.register.programme().name),
                filled("Holder of the permit", permit.holder),
                filled("Permit", permit.number, f"of {permit.authority}, {dates}"),
                filled("Asked by", self.duty.cite, f"due on {self.duty.due_on}, days of {self.zone.key}"),
            ),
        )


def contact(label: str) -> DraftField:
    """Give a field for a person's contact, which Leadline never hands out."""
    return blank(label, "name, address, phone, e-mail")


def begin_draft(
    register: Register, duty_id: str, *, read_position: ReadPosition, write_position: WritePosition
) -> Drafting:
    """
    Find the duty and the version of its permit.

    Raises
    ------
    NotFoundError
        If there is no such duty.
    """
    on = today(register)
    duty = find_duty(list_duties(register, on=on).duties, duty_id)
    versions = register.permit_versions(duty.permit)
    return Drafting(
        register=register,
        duty=duty,
        permit=in_force_on(versions, duty.from_day or on),
        zone=ZoneInfo(register.programme().zone),
        made_on=on,
        read_position=read_position,
        write_position=write_position,
    )

"""Gather all that is held about one family: their contacts, and what the journal says of their module."""

from collections.abc import Callable, Iterator, Mapping
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from registry.actions.follow_custody import follow_custody
from registry.errors import NotFoundError, RegistryError
from registry.ports import Families, Register
from registry.records.body import module_from_body, placement_from_body
from registry.records.custody import HandOver, Side
from registry.records.entry import Entry, canonical_json
from registry.records.family import Family
from registry.records.family_record import Fact, FamilyRecord, Section
from registry.records.module import Module
from registry.records.placement import Placement
from registry.records.position import Position
from registry.records.resurvey import resurvey_from_body
from registry.rules.wording import length_text, radius_text

__all__ = ["gather_family"]

ERASABLE = "Kept apart from the record, in a file of its own; erased when the family asks for it."
FOR_GOOD = "Kept in the journal of the registry, of which nothing can be erased."
NOTES = (
    "Names of crews, vessels and of who wrote the entries are left out: they are not the family's.",
    "Whom this programme told of the module outside of Leadline, Leadline does not know.",
)

#: Gives a position as words, with no digit beyond its uncertainty.
WritePosition = Callable[[Position], str]


def gather_family(
    register: Register, families: Families, tag: str, *, write_position: WritePosition
) -> FamilyRecord:
    """
    Give all that is held about the family of a module.

    Parameters
    ----------
    register : Register
        Whose journal is read from its first entry to its last.
    families : Families
        Where contacts are held.
    tag : str
        Of the module.
    write_position : callable
        Writes a position in words.

    Raises
    ------
    NotFoundError
        If neither the registry nor the file of families knows the tag.
    """
    with register.reading():
        family = families.held().get(tag)
        entries = [entry for entry in register.journal() if _is_about(entry, tag)]
        if family is None and not entries:
            register.module(tag)  # tells which tags are near
            raise NotFoundError(f"Nothing is held about {tag}.", remedy="Check the tag.")
        programme = register.programme()
        desk = _Desk(register, ZoneInfo(programme.zone), write_position)
        sections = [
            Section(name="contacts", title="Contacts", kept=ERASABLE, rows=tuple(_contacts(family, desk))),
            Section(
                name="identification",
                title="Number of the crematory",
                kept=ERASABLE,
                rows=tuple(
                    (_fact("identification", number, "As written", number),)
                    for number in (family.identifications if family else ())
                ),
            ),
            Section(
                name="plaque",
                title="Words of the plaque",
                kept=ERASABLE,
                rows=_wording(family),
            ),
            *desk.sections(tag, entries),
        ]
        return FamilyRecord(
            tag=tag,
            programme=programme.name,
            written_at=register.now(),
            zone=programme.zone,
            journal_head=register.head(),
            sections=tuple(section for section in sections if section.rows),
            notes=NOTES,
        )


def _is_about(entry: Entry, tag: str) -> bool:
    """Tell whether an entry is about a module; its text is looked at first: a journal holds millions."""
    if canonical_json(tag)[1:-1] not in entry.body:
        return False
    body = entry.content()
    return body.get("tag") == tag or body.get("duty_id") == f"burial-{tag}"


def _contacts(family: Family | None, desk: "_Desk") -> Iterator[tuple[Fact, ...]]:
    for contact in family.contacts if family else ():
        told = (_fact(name, text, name.capitalize(), text) for name, text in contact.values().items())
        yield (*told, desk.instant("recorded_at", contact.recorded_at, "Written down"))


def _wording(family: Family | None) -> tuple[tuple[Fact, ...], ...]:
    if family is None or family.plaque is None:
        return ()
    told = family.plaque.texts().items()
    return (tuple(_fact(label, text, label.capitalize(), text) for text, label in told),)


class _Desk:
    """Turns entries of the journal into facts."""

    def __init__(self, register: Register, zone: ZoneInfo, write_position: WritePosition) -> None:
        self._register, self._zone, self._write_position = register, zone, write_position

    def instant(self, name: str, at: datetime, label: str) -> Fact:
        words = at.astimezone(self._zone).strftime("%Y-%m-%d %H:%M %Z")
        return _fact(name, at.isoformat(), label, words)

    def sections(self, tag: str, entries: list[Entry]) -> Iterator[Section]:
        """Give what the journal says, a section for each kind of thing."""
        made: Mapping[tuple[str, str], Callable[[Entry], tuple[Fact, ...]]] = {
            ("module", "Module and memorial"): self._module,
            ("placement", "Placements"): self._placement,
            ("resurveyed", "Later observations"): self._resurvey,
            ("certificate", "Certificates"): self._certificate,
            ("duty", "Reports to authorities"): self._duty,
            ("family", "Erasures"): self._erasure,
            ("plaque", "Answers to proofs of the plaque"): self._plaque,
        }
        rows: dict[str, list[tuple[Fact, ...]]] = {kind: [] for kind, _ in made}
        for entry in entries:
            kind = "resurveyed" if entry.kind == "placement.resurveyed" else entry.kind.partition(".")[0]
            for (name, _), row in made.items():
                if name == kind:
                    rows[name].append(_understood(row, entry))
        names = {"module": "modules", "placement": "placements", "resurveyed": "resurveys"}
        names |= {
            "certificate": "certificates",
            "duty": "reports",
            "family": "erasures",
            "plaque": "plaque_answers",
        }
        for name, title in made:
            yield Section(name=names[name], title=title, kept=FOR_GOOD, rows=tuple(rows[name]))
            if name == "module":
                yield self._custody(tag)

    def _custody(self, tag: str) -> Section:
        chain = follow_custody(self._register, tag)
        rows = [self._hand_over(each) for each in chain.hand_overs]
        if rows:
            rows += [
                (_fact("fault", fault.sentence, fault.kind.value.capitalize(), fault.sentence),)
                for fault in chain.faults
            ]
        return Section(name="custody", title="Keepers", kept=FOR_GOOD, rows=tuple(rows))

    def _hand_over(self, each: HandOver) -> tuple[Fact, ...]:
        def side(name: str, of: Side, label: str) -> tuple[Fact, ...]:
            return (
                _fact(name, of.name, label, of.name),
                _fact(f"{name}_tag", of.tag, "", ""),
                _fact(f"{name}_identification_digest", of.identification_digest, "", ""),
            )

        return (
            _fact("step", each.step.value, "Step", each.step.value),
            self.instant("at", each.at, "When"),
            *side("from", each.giver, "From"),
            *side("to", each.taker, "To"),
            _fact("note", each.note, "Note", each.note),
        )

    def _told(self, entry: Entry) -> tuple[Fact, ...]:
        """Say which entry it is, when it was written, and why where it mends another."""
        reason = entry.content().get("reason", "")
        return (
            _fact("entry", entry.reference, "Entry", f"{entry.reference}, {entry.kind}"),
            self.instant("written_at", entry.time, "Written down"),
            _fact("reason", reason, "Reason", reason),
        )

    def _module(self, entry: Entry) -> tuple[Fact, ...]:
        module: Module = module_from_body(entry.content())
        memorial = module.memorial
        name = memorial.name if memorial else ""
        listed = memorial.consent_listed if memorial else None
        consent = "" if listed is None else "yes" if listed else "no"
        cast = module.cast_on.isoformat() if module.cast_on else ""
        return (
            *self._told(entry),
            _fact("tag", module.tag, "Tag", module.tag),
            _fact("memorial", name, "Memorial", name),
            _fact("consent_listed", listed, "May be listed in public", consent),
            _fact("module_type", module.type_id, "Type", module.type_id),
            _fact("cast_on", cast, "Cast on", cast),
        )

    def _placement(self, entry: Entry) -> tuple[Fact, ...]:
        body = entry.content()
        told = self._told(entry)
        if entry.kind == "placement.withdrawn":
            gone = str(body["placement_id"])
            return (*told, _fact("withdraws", gone, "Takes back", gone))
        placement: Placement = placement_from_body(body)
        old = str(body.get("supersedes", ""))
        stands = entry.reference in self._register.placement_ids(placement.tag)
        return (
            *told,
            _fact("supersedes", old, "In place of", old),
            _fact("stands", stands, "Stands", "yes" if stands else "no, see below"),
            self.instant("placed_at", placement.placed_at, "Placed"),
            _fact("permit", placement.permit, "Permit", placement.permit),
            *self._place(placement.home.position),
            *_depth(placement),
            _fact("note", placement.note, "Note", placement.note),
        )

    def _resurvey(self, entry: Entry) -> tuple[Fact, ...]:
        resurvey = resurvey_from_body(entry.content())
        movement = resurvey.movement.verdict.value
        return (
            *self._told(entry),
            self.instant("observed_at", resurvey.observed_at, "Observed"),
            _fact("movement", movement, "Movement", movement),
            *self._place(resurvey.home.position),
            _fact("note", resurvey.note, "Note", resurvey.note),
        )

    def _certificate(self, entry: Entry) -> tuple[Fact, ...]:
        body = entry.content()
        number, version = str(body.get("number", "")), body.get("version")
        words = f"{number}, version {version}" if version else number
        return (
            *self._told(entry),
            _fact("number", number, "Certificate", words),
            _fact("version", version, "", ""),
            _fact("despite", body.get("despite", ""), "Issued despite", str(body.get("despite", ""))),
        )

    def _duty(self, entry: Entry) -> tuple[Fact, ...]:
        body = entry.content()
        sent = str(body.get("sent_on") or "")
        return (
            *self._told(entry),
            _fact("duty_id", body["duty_id"], "Report", str(body["duty_id"])),
            _fact("sent_on", sent, "Sent", sent or "nothing was sent"),
            _fact("note", body["note"], "Note", str(body["note"])),
        )

    def _plaque(self, entry: Entry) -> tuple[Fact, ...]:
        approved = entry.kind == "plaque.approved"
        drawing = str(entry.content()["artwork_sha256"])
        return (
            *self._told(entry),
            _fact("approved", approved, "Answer", "approved" if approved else "a change was asked for"),
            _fact("artwork_sha256", drawing, "Drawing", drawing[:16]),
        )

    def _erasure(self, entry: Entry) -> tuple[Fact, ...]:
        body = entry.content()
        words = f"{body['contacts']} contacts, {body['identifications']} numbers of the crematory"
        return (
            *self._told(entry),
            _fact("contacts", body["contacts"], "Erased", words),
            _fact("identifications", body["identifications"], "", ""),
        )

    def _place(self, position: Position) -> tuple[Fact, ...]:
        return (
            _fact("lat_deg", position.lat_deg, "Position", self._write_position(position)),
            _fact("lon_deg", position.lon_deg, "", ""),
            _fact("frame", position.frame, "", ""),
            _fact("epoch", position.epoch, "", ""),
            _fact("r95_m", position.r95_m, "Within (95 %)", radius_text(position.r95_m)),
        )


def _understood(row: Callable[[Entry], tuple[Fact, ...]], entry: Entry) -> tuple[Fact, ...]:
    try:
        return row(entry)
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        what = f"Entry {entry.reference} ({entry.kind}) cannot be read: {error}."
        raise RegistryError(what, remedy="Find out more with: leadline journal verify.") from error


def _depth(placement: Placement) -> tuple[Fact, ...]:
    depth, u95 = placement.charted_depth_m, placement.depth_u95_m
    words = "" if depth is None or u95 is None else length_text(depth, u95)
    return (
        _fact("charted_depth_m", depth, "Charted depth", words),
        _fact("depth_u95_m", u95, "", ""),
    )


def _fact(name: str, value: Any, label: str, words: str) -> Fact:
    return Fact(name=name, value=value, label=label, words=words)

"""What stands in for disk, clock and key in the tests: the same ports, kept in memory."""

import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from copy import deepcopy
from datetime import UTC, date, datetime, timedelta
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

import numpy as np

from registry.errors import ConflictError, NewerRegistryError, NotFoundError
from registry.records.baseline import Baseline
from registry.records.body import (
    baseline_from_body,
    keep_out_from_body,
    module_from_body,
    permit_from_body,
    placement_from_body,
    programme_body,
    target_from_body,
    type_from_body,
)
from registry.records.certificate_version import (
    CertificateState,
    CertificateVersion,
    superseded,
    version_of_body,
    withdrawn,
)
from registry.records.entry import GENESIS, Draft, Entry, instant_text, seal
from registry.records.family import Family
from registry.records.module import Module, ModuleType
from registry.records.permit import KeepOut, Permit, in_force_on
from registry.records.placement import Placement, PlacementTable
from registry.records.plaque_wording import PLAQUE_KINDS
from registry.records.programme import Programme
from registry.records.programme_key import ProgrammeKey, programme_keys
from registry.records.target import Target

T = TypeVar("T")


class FixedClock:
    """A clock that stands still, or goes on by `step_s` each time it is read."""

    def __init__(self, instant: datetime | None = None, *, step_s: float = 0.0) -> None:
        self.instant = instant or datetime(2026, 6, 1, 17, 0, tzinfo=UTC)
        self.step_s = step_s

    def now(self) -> datetime:
        """Give the instant."""
        instant = self.instant
        self.instant += timedelta(seconds=self.step_s)
        return instant


class FakeSigner:
    """Signs with a digest: the length of an Ed25519 signature, and nothing that anyone should trust."""

    key_id = "a-test-key"

    def sign(self, message: bytes) -> bytes:
        """Give 64 bytes that depend on the message."""
        return hashlib.sha512(b"test" + message).digest()


class MemoryFamilies:
    """The port ``Families`` kept in a dictionary; its secrets are no secret."""

    def __init__(self) -> None:
        self.kept: dict[str, Family] = {}
        self._secrets = 0

    def held(self) -> Mapping[str, Family]:
        return dict(sorted(self.kept.items()))

    def keep(self, families: Sequence[Family]) -> None:
        for family in families:
            self.kept.pop(family.tag, None)
            if not family.empty:
                self.kept[family.tag] = family

    def fresh_secret(self) -> str:
        self._secrets += 1
        return f"{self._secrets:064x}"


class MemoryRegister:
    """The port ``Register`` kept in lists and dictionaries."""

    def __init__(
        self, programme: Programme, *, actor: str, clock: FixedClock, origin: str = "0badcafe"
    ) -> None:
        self.origin = origin
        self._clock = clock
        self._programme = programme
        self._entries: list[Entry] = []
        self._depth = 0
        self._permits: dict[str, tuple[Permit, ...]] = {}
        self._targets: dict[str, Target] = {}
        self._baselines: dict[str, Baseline] = {}
        self._declared: list[tuple[str, Mapping[str, Any]]] = []
        self._keep_outs: dict[str, KeepOut] = {}
        self._types: dict[str, ModuleType] = {}
        self._modules: dict[str, Module] = {}
        self._placements: dict[str, Placement] = {}
        self._superseded: dict[str, str] = {}
        self._row_keys: set[str] = set()
        self._resurveys: dict[str, Mapping[str, Any]] = {}
        self._certificates: list[Mapping[str, Any]] = []
        self._versions: list[CertificateVersion] = []
        self._duplicates: list[Mapping[str, Any]] = []
        self._rotations: list[tuple[datetime, Mapping[str, Any]]] = []
        self._hand_overs: dict[str, Mapping[str, Any]] = {}
        self._erasures: list[Mapping[str, Any]] = []
        body = programme_body(programme) | {"origin": origin, "format": 1}
        self.append([Draft(kind="registry.created", actor=actor, body=body)])

    def programme(self) -> Programme:
        return self._programme

    def permits(self) -> tuple[Permit, ...]:
        return tuple(self.permit(key) for key in sorted(self._permits))

    def permits_near(self, *, lon_deg: float, lat_deg: float, reach_m: float) -> tuple[Permit, ...]:
        """Every permit: the port allows others among those within reach."""
        return self.permits()

    def permit_boxes(self) -> tuple[tuple[str, tuple[float, float, float, float]], ...]:
        return tuple((permit.number, area.shape.bounds) for permit in self.permits() for area in permit.areas)

    def permit(self, number: str, *, on: date | None = None) -> Permit:
        return in_force_on(self.permit_versions(number), on or self.today())

    def permit_versions(self, number: str) -> tuple[Permit, ...]:
        return _one(self._permits, number, "permit")

    def permit_history(self) -> tuple[tuple[Permit, ...], ...]:
        return tuple(self._permits[key] for key in sorted(self._permits))

    def targets(self) -> tuple[Target, ...]:
        return tuple(self._targets[key] for key in sorted(self._targets))

    def target_of(self, permit: str, tag: str) -> Target | None:
        return next((t for t in self.targets() if (t.permit, t.tag) == (permit, tag)), None)

    def baselines(self) -> tuple[Baseline, ...]:
        return tuple(self._baselines[key] for key in sorted(self._baselines))

    def declarations(self) -> tuple[Mapping[str, Any], ...]:
        return tuple(body for kind, body in self._declared if kind == "programme.declared")

    def duties_done(self) -> tuple[Mapping[str, Any], ...]:
        return tuple(body for kind, body in self._declared if kind == "duty.done")

    def plaque_answers(self, tag: str) -> tuple[Mapping[str, Any], ...]:
        return tuple(
            {**body, "approved": kind == "plaque.approved"}
            for kind, body in self._declared
            if kind in PLAQUE_KINDS and body["tag"] == tag
        )

    def keep_outs(self) -> tuple[KeepOut, ...]:
        return tuple(self._keep_outs[key] for key in sorted(self._keep_outs))

    def module_types(self) -> tuple[ModuleType, ...]:
        return tuple(self._types[key] for key in sorted(self._types))

    def module_type(self, type_id: str) -> ModuleType:
        return _one(self._types, type_id, "module type")

    def modules(self) -> tuple[Module, ...]:
        return tuple(self._modules[key] for key in sorted(self._modules))

    def module(self, tag: str) -> Module:
        return _one(self._modules, tag, "module")

    def modules_tagged(self, tags: Sequence[str]) -> dict[str, Module]:
        return {tag: self._modules[tag] for tag in tags if tag in self._modules}

    def placements(self, *, permit: str | None = None, by_permit: bool = False) -> PlacementTable:
        standing = [
            (placement.placed_at, placement_id, placement)
            for placement_id, placement in self._placements.items()
            if placement_id not in self._superseded and permit in (None, placement.permit)
        ]
        standing.sort(key=lambda row: (row[2].permit if by_permit else "", *row[:2]))
        return self._table(standing)

    def placements_near(
        self,
        *,
        lon_deg: float,
        lat_deg: float,
        reach_m: float,
        permit: str | None = None,
        less_sure_than_m: float | None = None,
    ) -> PlacementTable:
        """Everything that stands: the port allows others among those within reach."""
        return self.placements()

    def placed_under(self, permit: str, *, until: datetime) -> tuple[int, float]:
        table = self.placements(permit=permit)
        mass_kg = table.mass_kg[table.placed_at_s <= until.timestamp()]
        return len(mass_kg), sum(mass_kg.tolist(), 0.0)

    def placements_tagged(self, tags: Sequence[str]) -> PlacementTable:
        table = self.placements()
        return table.rows(np.isin(table.tag, list(tags)))

    def placement(self, placement_id: str) -> Placement:
        return _one(self._placements, placement_id, "placement")

    def placement_ids(self, tag: str) -> tuple[str, ...]:
        table = self.placements()
        return tuple(table.placement_id[table.tag == tag])

    def source_rows(self, keys: Sequence[str]) -> frozenset[str]:
        return frozenset(keys) & self._row_keys

    def source_entry(self, key: str) -> Entry | None:
        kinds = ("placement.logged", "placement.resurveyed")
        rows = [
            e for e in self._entries if e.kind in kinds and json.loads(e.body)["source"].get("key") == key
        ]
        return next(iter(rows), None)

    def resurveys(self, tag: str | None = None) -> tuple[Mapping[str, Any], ...]:
        return tuple(
            body
            for body in self._resurveys.values()
            if tag in (None, body["tag"]) and body["reference"] not in self._superseded
        )

    def certificates(self, tag: str | None = None) -> tuple[Mapping[str, Any], ...]:
        return tuple(body for body in self._certificates if tag in (None, body["tag"]))

    def hand_overs(self, tag: str | None = None) -> tuple[Mapping[str, Any], ...]:
        return tuple(
            body
            for body in self._hand_overs.values()
            if tag in (None, body["tag"]) and body["reference"] not in self._superseded
        )

    def keeps_custody(self) -> bool:
        return bool(self._hand_overs)

    def erasures(self) -> tuple[Mapping[str, Any], ...]:
        return tuple(self._erasures)

    def certificate_versions(self, tag: str | None = None) -> tuple[CertificateVersion, ...]:
        return tuple(each for each in self._versions if tag in (None, each.tag))

    def certificate_duplicates(self, tag: str | None = None) -> tuple[Mapping[str, Any], ...]:
        return tuple(body for body in self._duplicates if tag in (None, body["tag"]))

    def signing_keys(self) -> tuple[ProgrammeKey, ...]:
        return programme_keys(self._programme, self._entries[0].time, self._rotations)

    def journal(self, *, after: int = 0, kind: str | None = None) -> Iterator[Entry]:
        yield from (entry for entry in self._entries[after:] if kind in (None, entry.kind))

    def journal_length(self) -> int:
        return len(self._entries)

    def head(self) -> str:
        return self._entries[-1].digest if self._entries else GENESIS

    def now(self) -> datetime:
        return self._clock.now()

    def today(self) -> date:
        return self._clock.instant.astimezone(ZoneInfo(self._programme.zone)).date()

    @contextmanager
    def reading(self) -> Iterator[None]:
        yield

    @contextmanager
    def writing(self) -> Iterator[None]:
        kept = {name: deepcopy(value) for name, value in vars(self).items() if name in _STATE}
        try:
            yield
        except BaseException:
            vars(self).update(kept)
            raise

    def append(self, drafts: Sequence[Draft]) -> tuple[Entry, ...]:
        written = []
        with self.writing():
            time = self._clock.now()
            for draft in drafts:
                sequence = len(self._entries) + 1
                entry = seal(draft, origin=self.origin, sequence=sequence, time=time, previous=self.head())
                self._entries.append(entry)
                self._follow(entry, entry.content())
                written.append(entry)
        return tuple(written)

    def _follow(self, entry: Entry, body: dict[str, Any]) -> None:
        kind = entry.kind
        if kind == "permit.added":
            _add(self._permits, body["number"], (permit_from_body(body),))
        elif kind == "permit.amended":
            permit = permit_from_body(body)
            others = [
                version
                for version in self.permit_versions(permit.number)
                if version.begins_on != permit.begins_on
            ]
            versions = sorted([*others, permit], key=lambda version: version.begins_on)
            self._permits[permit.number] = tuple(versions)
        elif kind == "target.added":
            target = target_from_body(body)
            if "supersedes" in body:
                _one(self._targets, body["supersedes"], "target")
                del self._targets[body["supersedes"]]
            if (target.permit, target.tag) in {(t.permit, t.tag) for t in self._targets.values()}:
                raise ConflictError(f"Module {target.tag} has a target already.")
            _add(self._targets, target.target_id, target)
        elif kind == "baseline.added":
            _add(self._baselines, body["baseline_id"], baseline_from_body(body))
        elif kind in ("programme.declared", "duty.done", *PLAQUE_KINDS):
            told = {"reference": entry.reference, "time": instant_text(entry.time), "actor": entry.actor}
            self._declared.append((kind, body | told))
        elif kind == "keepout.added":
            _add(self._keep_outs, body["keep_out_id"], keep_out_from_body(body))
        elif kind == "type.added":
            _add(self._types, body["type_id"], type_from_body(body))
        elif kind == "module.added":
            _one(self._types, body["type_id"], "module type")
            _add(self._modules, body["tag"], module_from_body(body))
        elif kind == "module.amended":
            _one(self._types, body["type_id"], "module type")
            _one(self._modules, body["tag"], "module")
            self._modules[body["tag"]] = module_from_body(body)
        elif kind == "placement.withdrawn":
            _one(self._placements, body["placement_id"], "placement")
            _add(self._superseded, body["placement_id"], entry.reference)
        elif kind in ("placement.logged", "placement.corrected"):
            old = body.get("supersedes")
            if old is not None:
                _one(self._placements, old, "placement")
                _add(self._superseded, old, entry.reference)
            elif "key" in body["source"]:
                _take(self._row_keys, body["source"]["key"])
            self._placements[entry.reference] = placement_from_body(body)
        elif kind == "placement.resurveyed":
            _one(self._placements, body["placement_id"], "placement")
            old = body.get("supersedes")
            if old is not None:
                _one(self._resurveys, old, "resurvey")
                _add(self._superseded, old, entry.reference)
            elif "key" in body["source"]:
                _take(self._row_keys, body["source"]["key"])
            self._resurveys[entry.reference] = body | {"reference": entry.reference}
        elif kind in ("custody.handed", "custody.withdrawn", "family.erased"):
            self._keep_of_people(entry, body)
        elif kind == "certificate.issued":
            number = (body["number"], body["version"])
            if number in {(issued["number"], issued["version"]) for issued in self._certificates}:
                raise ConflictError(f"Certificate {number} was issued before.")
            self._certificates.append(body | {"reference": entry.reference})
            made = version_of_body(body, entry.time)
            self._versions = [
                superseded(each, entry.time) if each.number == made.number else each
                for each in self._versions
            ] + [made]
        elif kind == "certificate.withdrawn":
            number = body["number"]
            states = [each.state for each in self._versions if each.number == number]
            if not states:
                raise NotFoundError(f"There is no certificate {number} to withdraw.")
            if set(states) == {CertificateState.WITHDRAWN}:
                raise ConflictError(f"Certificate {number} was withdrawn before.")
            self._versions = [
                withdrawn(each, entry.time, body["reason"]) if each.number == number else each
                for each in self._versions
            ]
        elif kind == "certificate.duplicated":
            copy = (body["number"], body["version"], body["duplicate"])
            if copy[:2] not in {(each.number, each.version) for each in self._versions}:
                raise NotFoundError(f"There is no certificate {copy} to duplicate.")
            if copy in {(each["number"], each["version"], each["duplicate"]) for each in self._duplicates}:
                raise ConflictError(f"Duplicate {copy} was made before.")
            told = {"reference": entry.reference, "time": instant_text(entry.time)}
            self._duplicates.append(body | told)
        elif kind == "key.rotated":
            if body["replaces"] in {each["replaces"] for _, each in self._rotations}:
                raise ConflictError(f"The key {body['replaces']} was replaced before.")
            self._rotations.append((entry.time, body))
        elif kind not in ("registry.created", "intake.read"):
            raise NewerRegistryError(f"Entry {entry.reference} is of an unknown kind {kind!r}.")

    def _keep_of_people(self, entry: Entry, body: dict[str, Any]) -> None:
        told = {"reference": entry.reference, "time": instant_text(entry.time), "actor": entry.actor}
        if entry.kind == "family.erased":
            self._erasures.append(body | told)
            return
        old = body["reference"] if entry.kind == "custody.withdrawn" else body.get("supersedes")
        if old is not None:
            if _one(self._hand_overs, old, "hand-over")["tag"] != body["tag"]:
                raise NotFoundError(f"There is no hand-over {old} of {body['tag']}.")
            _add(self._superseded, old, entry.reference)
        if entry.kind == "custody.handed":
            self._hand_overs[entry.reference] = body | told

    def _table(self, standing: Sequence[tuple[datetime, str, Placement]]) -> PlacementTable:
        rows = []
        for placed_at, placement_id, placement in standing:
            module = self._modules.get(placement.tag)
            type_ = self._types[module.type_id] if module else None
            position = placement.home.position
            rows.append(
                {
                    "placement_id": placement_id,
                    "tag": placement.tag,
                    "permit": placement.permit,
                    "module_type": type_.type_id if type_ else "",
                    "memorial": module.memorial.name if module and module.memorial else "",
                    "lon_deg": position.lon_deg,
                    "lat_deg": position.lat_deg,
                    "r95_m": position.r95_m,
                    "depth_m": _number(placement.charted_depth_m),
                    "depth_u95_m": _number(placement.depth_u95_m),
                    "placed_at_s": round(placed_at.timestamp(), 3),
                    "height_m": type_.height_m if type_ else np.nan,
                    "height_u95_m": type_.height_u95_m if type_ else np.nan,
                    "base_radius_m": type_.base_radius_m if type_ else np.nan,
                    "mass_kg": (module and module.mass_kg) or (type_.mass_kg if type_ else np.nan),
                }
            )
        names = PlacementTable.__dataclass_fields__
        words = ("placement_id", "tag", "permit", "module_type", "memorial")
        return PlacementTable(
            **{
                name: np.array([row[name] for row in rows], dtype=object if name in words else float)
                for name in names
            }
        )


_STATE = (
    "_entries",
    "_permits",
    "_targets",
    "_baselines",
    "_declared",
    "_keep_outs",
    "_types",
    "_modules",
    "_placements",
    "_superseded",
    "_row_keys",
    "_resurveys",
    "_certificates",
    "_versions",
    "_duplicates",
    "_rotations",
    "_hand_overs",
    "_erasures",
)


def _number(value: float | None) -> float:
    return np.nan if value is None else value


def _one(those: Mapping[str, T], key: str, what: str) -> T:
    if key not in those:
        raise NotFoundError(f"There is no {what} {key!r}.", remedy=f"There are: {', '.join(sorted(those))}.")
    return those[key]


def _take(keys: set[str], key: str) -> None:
    if key in keys:
        raise ConflictError(f"The row {key} was taken in before.")
    keys.add(key)


def _add(those: dict[str, T], key: str, value: T) -> None:
    if key in those:
        raise ConflictError(f"{key} is in the registry already.", remedy="Choose another name.")
    those[key] = value

"""Several machines with one registry, which write apart and hand each other bundles."""

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from registry.actions.export_bundle import export_bundle
from registry.actions.import_bundle import Imported, import_bundle
from registry.actions.name_device import name_device
from registry.actions.trust_device import trust_device
from registry.formats.bundle_file import read_bundle, write_bundle
from registry.formats.signed_statement import sign, verify
from registry.records.entry import Draft
from registry.records.programme_key import public_key_text
from registry.storage.exchange import RegisterExchange
from registry.storage.geopackage import backup, create_registry, open_register
from registry.storage.geopackage_schema import DERIVED
from registry.storage.keys import SigningKey, create_key
from registry.storage.register import GeoPackageRegister
from registry.storage.replay import prove
from tests.builders import ACTOR, NOON, a_programme
from tests.fakes import FixedClock


@dataclass
class Machine:
    """One of them: a registry of its own and the key that it signs with."""

    path: Path
    register: GeoPackageRegister
    key: SigningKey
    clock: FixedClock = field(default_factory=FixedClock)

    @property
    def exchange(self) -> RegisterExchange:
        return RegisterExchange(self.register)

    @property
    def origin(self) -> str:
        return self.register.writes_as()

    def writes(self, *drafts: Draft) -> list[str]:
        """Append and give the references."""
        return [entry.reference for entry in self.register.append(drafts)]

    def exports(self, to: str | None = None) -> bytes:
        bundle = export_bundle(
            self.register,
            self.exchange,
            key_id=self.key.key_id,
            public_key=self.key.public_key,
            now=self.register.now(),
            to=to,
        )
        return write_bundle(bundle, self.key)

    def imports(self, data: bytes, **more: Any) -> Imported:
        return import_bundle(
            self.register, self.exchange, read_bundle(data), actor=ACTOR, verify=verify, **more
        )

    def trusts(self, other: "Machine") -> None:
        """Record, with the programme's key, that the other's bundles are taken in."""
        trust_device(
            self.register,
            self.exchange,
            read_bundle(other.exports()).sender,
            compared=other.key.key_id,
            endorse=lambda statement: sign(statement, self.key),
            actor=ACTOR,
        )

    def copied_to(self, path: Path, *, ahead_s: float = 0.0) -> "Machine":
        """Give another machine that begins with a backup of this one, its clock so far ahead."""
        backup(self.register, path)
        return opened(path, create_key(path.parent / f"{path.stem}.keys"), ahead_s=ahead_s)

    def named(self, name: str) -> "Machine":
        name_device(self.register, self.exchange, name, self.key.public_key, actor=ACTOR)
        return self

    def tables(self) -> dict[str, list[tuple[Any, ...]]]:
        """Give every row of every table that follows from the journal, and the journal itself."""
        return {
            table: self.register.connection.execute(f'SELECT * FROM "{table}" ORDER BY 1').fetchall()
            for table in (*DERIVED, "journal")
        }

    def is_sound(self) -> None:
        problems = prove(self.register)
        assert not problems, problems[0].sentence


def opened(path: Path, key: SigningKey, *, ahead_s: float = 0.0) -> Machine:
    clock = FixedClock(NOON + timedelta(hours=2, seconds=ahead_s), step_s=1.0)
    return Machine(path, open_register(path, clock=clock), key, clock)


def an_office(folder: Path, *, instant: datetime = NOON) -> Machine:
    """Give the machine that makes the registry and holds the programme's key."""
    key = create_key(folder / "office.keys")
    clock = FixedClock(instant, step_s=1.0)
    programme = a_programme(key_id=key.key_id, public_key=public_key_text(key.public_key))
    path = folder / "office.gpkg"
    return Machine(path, create_registry(path, programme, actor=ACTOR, clock=clock), key, clock)

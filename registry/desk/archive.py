"""Files as one ZIP to take away: of files in memory, and of the folder of an audit, which is then gone."""

import io
import tempfile
import zipfile
from collections.abc import Callable, Mapping
from datetime import datetime
from pathlib import Path
from typing import BinaryIO

from registry.desk.audit_dates import AuditDates, registry_on
from registry.storage.register import GeoPackageRegister

__all__ = ["archive_of", "audit_archive"]

#: ZIP knows no earlier day; a day that says nothing leaves the bytes the same for the same files.
_DAY = (1980, 1, 1, 0, 0, 0)


def archive_of(files: Mapping[str, bytes]) -> bytes:
    """Pack files, by name, into a ZIP; the same bytes for the same files."""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        for name, content in files.items():
            archive.writestr(_member(name), content)
    return packed.getvalue()


def audit_archive(
    register: GeoPackageRegister,
    dates: AuditDates,
    *,
    permit: str | None,
    audited_at: datetime,
    say: Callable[[str], None] = lambda _words: None,
) -> BinaryIO:
    """
    Write the folder for the officer, as ``leadline audit --out`` does, and pack it.

    Parameters
    ----------
    register : GeoPackageRegister
        The registry as it stands; it is proved first, and the files say what was found.
    dates : AuditDates
        The registry as of when, and since when changes are told.
    permit : str, optional
        Only this permit.
    audited_at : datetime
        Now, with its zone.
    say : callable
        Told what is being done.

    Returns
    -------
    file
        The ZIP, at its beginning, on a file without a name: closed, it is gone.

    Raises
    ------
    NotFoundError
        If there is no such permit, or the registry had not begun.
    """
    from registry.actions.audit_registry import audit_registry
    from registry.actions.summarise_audit import summarise_audit
    from registry.desk.audit_folder import write_audit_folder
    from registry.storage.replay import prove

    packed = tempfile.TemporaryFile(prefix="leadline-")  # noqa: SIM115 - whoever asked closes it
    try:
        with tempfile.TemporaryDirectory(prefix="leadline-") as scratch, register.reading():
            problems = tuple(problem.sentence for problem in prove(register))
            judged = registry_on(register, dates)
            try:
                with judged.reading():
                    summary = summarise_audit(
                        judged,
                        audit_registry(judged, permit=permit, on=dates.on),
                        audited_at=audited_at,
                        as_of=dates.known,
                        on=dates.on,
                        problems=problems,
                    )
                    folder = Path(scratch) / "audit"
                    write_audit_folder(summary, folder, register=judged, since=dates.since, say=say)
            finally:
                if judged is not register:
                    judged.close()
            _pack(folder, packed)
    except BaseException:
        packed.close()
        raise
    packed.seek(0)
    return packed


def _pack(folder: Path, packed: BinaryIO) -> None:
    with zipfile.ZipFile(packed, "w") as archive:
        for path in sorted(folder.rglob("*")):
            if path.is_file():
                member = _member(path.relative_to(folder.parent).as_posix())
                with path.open("rb") as source, archive.open(member, "w") as target:
                    while piece := source.read(1 << 20):
                        target.write(piece)


def _member(name: str) -> zipfile.ZipInfo:
    member = zipfile.ZipInfo(name, _DAY)
    member.compress_type = zipfile.ZIP_DEFLATED
    member.external_attr = 0o644 << 16
    return member

"""
The registry from Python: each layer as a GeoDataFrame, the actions as methods.

The same register, rules and findings as the command; nothing is decided here.
"""

from collections.abc import Sequence
from datetime import date, datetime
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any

from registry.actions.as_built_list import as_built_list
from registry.actions.audit_registry import Audit, audit_registry
from registry.actions.charted_depth import charted_depth
from registry.actions.check_placement import Advice, check_placement
from registry.actions.derive_placement import stated_of
from registry.actions.draw_sample import draw_sample
from registry.actions.list_duties import list_duties
from registry.actions.log_placement import Logged, correct_placement, log_placement
from registry.actions.publish_site import publish_site
from registry.actions.settle_position import settle
from registry.formats.reported_position import write_reported
from registry.formats.written_instant import read_instant
from registry.formats.written_position import read_position, read_position_in
from registry.formats.written_quantity import read_length
from registry.records.as_built import AsBuiltList
from registry.records.duty import Duties
from registry.records.inspection_sample import InspectionSample
from registry.records.log_row import LogRow
from registry.records.public_site import PublicSite
from registry.storage.clock import SystemClock
from registry.storage.geopackage import open_register
from registry.storage.layer_frames import LAYERS, layer_frame

if TYPE_CHECKING:
    import geopandas

__all__ = ["Registry", "open_registry"]


_LENGTHS = ("r95", "depth", "depth_u95", "tide")


def open_registry(path: str | Path, *, writable: bool = False) -> "Registry":
    """
    Open a registry for a notebook.

    Parameters
    ----------
    path : str or Path
        The registry file.
    writable : bool
        Whether placements may be logged.

    Raises
    ------
    RegistryError
        If it is absent, damaged or not a registry.
    """
    return Registry(path, writable=writable)


class Registry:
    """One open registry; close it, or use it in a ``with`` statement."""

    def __init__(self, path: str | Path, *, writable: bool = False) -> None:
        self._clock = SystemClock()
        self._register = open_register(path, clock=self._clock, writable=writable)

    def __enter__(self) -> "Registry":
        """Give the registry itself."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Close it."""
        self.close()

    def close(self) -> None:
        """Let go of the file."""
        self._register.close()

    @property
    def layers(self) -> tuple[str, ...]:
        """The names that :meth:`layer` knows."""
        return LAYERS

    def layer(self, name: str) -> "geopandas.GeoDataFrame":
        """
        Give a layer as a GeoDataFrame with its frame set.

        Raises
        ------
        NotFoundError
            If there is no such layer.
        """
        return layer_frame(self._register, name)

    def check(
        self,
        *,
        permit: str,
        module_type: str,
        at: str,
        tag: str = "",
        frame: str | None = None,
        epoch: float | None = None,
        r95: str | None = None,
        receiver: str = "",
        depth: str | None = None,
        depth_u95: str | None = None,
        tide: str | None = None,
    ) -> Advice:
        """Advise before a drop; texts are read as the command reads them."""
        row = self._row(
            "",
            permit=permit,
            at=at,
            when=self._clock.now(),
            frame=frame,
            epoch=epoch,
            r95=r95,
            receiver=receiver,
            depth=depth,
            depth_u95=depth_u95,
            tide=tide,
        )
        settled = settle(stated_of(row), self._register.programme())
        charted = None
        if row.depth is not None:
            datum = self._register.permit(permit).chart_datum
            charted = charted_depth(row.depth, u95=row.depth_u95, tide=row.tide, datum=datum)
        return check_placement(
            self._register,
            permit_number=permit,
            type_id=module_type,
            written=row.position,
            settled=settled,
            depth=charted,
            depth_text=depth or "",
            at=row.placed_at,
            tag=tag,
        )

    def place(
        self, tag: str, *, permit: str, at: str, when: str | datetime, actor: str, **stated: Any
    ) -> Logged:
        """Record one placement; `stated` takes what :meth:`check` takes besides."""
        row = self._row(tag, permit=permit, at=at, when=when, **stated)
        return log_placement(self._register, row, actor=actor)

    def correct(
        self,
        placement_id: str,
        tag: str,
        *,
        reason: str,
        permit: str,
        at: str,
        when: str | datetime,
        actor: str,
        **stated: Any,
    ) -> Logged:
        """Supersede a placement and say why."""
        row = self._row(tag, permit=permit, at=at, when=when, **stated)
        return correct_placement(self._register, placement_id, row, reason=reason, actor=actor)

    def audit(self, *, permit: str | None = None) -> Audit:
        """Ask every rule of every standing placement."""
        return audit_registry(self._register, permit=permit)

    def sample(self, *, permit: str, seed: str, size: int = 20) -> InspectionSample:
        """Draw modules to be looked at again, by the seed alone."""
        return draw_sample(self._register, permit, size=size, seed=seed, now=self._clock.now())

    def as_built(self, *, permit: str) -> AsBuiltList:
        """List what was built, in the frame and notation that the permit asks for."""
        return as_built_list(
            self._register,
            permit,
            now=self._clock.now(),
            read_position=read_position,
            write_position=write_reported,
        )

    def duties(self, *, permit: str | None = None, on: date | None = None) -> Duties:
        """List what is owed on a day of the programme's zone, today by default, overdue first."""
        return list_duties(self._register, permit=permit, on=on)

    def public_site(self) -> PublicSite:
        """Give what the public may see."""
        return publish_site(self._register, now=self._clock.now())

    def tags(self) -> Sequence[str]:
        """Give the tags of every module."""
        return [module.tag for module in self._register.modules()]

    def _row(self, tag: str, *, permit: str, at: str, when: str | datetime, **stated: Any) -> LogRow:
        zone = self._register.programme().zone
        lengths = {name: read_length(stated.pop(name)) for name in _LENGTHS if stated.get(name) is not None}
        for name in _LENGTHS:
            stated.pop(name, None)
        said: dict[str, Any] = {**stated, **lengths}
        return LogRow(
            tag=tag,
            permit=permit,
            placed_at=read_instant(when, zone) if isinstance(when, str) else when,
            position=read_position_in(at, said.get("frame")),
            **said,
        )

"""A served programme whose journal was written on several days, and in which every verdict occurs."""

from datetime import UTC, datetime
from pathlib import Path

from registry.actions.add_account import add_account
from registry.storage.account_file import open_accounts
from registry.storage.clock import SystemClock
from registry.storage.geopackage import create_registry
from tests.audited import strict_permit
from tests.builders import (
    ACTOR,
    a_memorial,
    a_module,
    a_placement,
    a_programme,
    a_stocked_registry,
    module_added,
    permit_added,
    placement_corrected,
    placement_logged,
)
from tests.fakes import FixedClock
from tests.web.conftest import PASSWORD, PEOPLE

__all__ = ["FORGED", "day", "write_programme"]

#: A tag that must reach no page, file or sheet as anything but text.
FORGED = "=HYPERLINK(1)<script>"


def day(month: int, number: int) -> datetime:
    """Give an afternoon in New York."""
    return datetime(2026, month, number, 18, tzinfo=UTC)


def write_programme(registry: Path) -> None:
    """
    Write a programme whose facts and entries are of different days, with its accounts.

    MR-0001 is placed and entered on 1 June, 4 km from where it lies; on 20 June that is set right. MR-0002 is
    placed on 2 June and entered on 10 June only. MR-0003 is placed and entered on 15 June, too shallow, and
    the forged tag beside it.
    """
    clock = FixedClock(day(5, 30))
    with create_registry(registry, a_programme(), actor=ACTOR, clock=clock) as register:
        kept = [
            draft for draft in a_stocked_registry(3) if draft.kind not in {"permit.added", "module.added"}
        ]
        modules = [
            module_added(a_module(tag=tag, memorial=a_memorial(name=name)))
            for tag, name in (("MR-0001", "Ada Quill"), ("MR-0002", "Ben Marsh"), ("MR-0003", "Ida Sand"))
        ]
        forged = module_added(a_module(tag=FORGED))
        register.append([permit_added(strict_permit()), *kept, *modules, forged])

        def enter(on: datetime, draft):
            clock.instant = on
            return register.append([draft])[0]

        first = a_placement(tag="MR-0001", placed_at=day(6, 1))
        lat_deg = first.home.position.lat_deg
        wrong = enter(
            day(6, 1), placement_logged(a_placement(tag="MR-0001", placed_at=day(6, 1), lat_deg=33.9))
        )
        enter(
            day(6, 10),
            placement_logged(a_placement(tag="MR-0002", placed_at=day(6, 2), lat_deg=lat_deg + 0.001)),
        )
        for tag, step, depth_m in (("MR-0003", 0.002, 14.0), (FORGED, 0.003, 20.0)):
            placed = a_placement(
                tag=tag, placed_at=day(6, 15), lat_deg=lat_deg + step, charted_depth_m=depth_m
            )
            enter(day(6, 15), placement_logged(placed))
        enter(day(6, 20), placement_corrected(first, supersedes=wrong.reference))
    accounts = open_accounts(registry, make=True)
    for name, role in PEOPLE.items():
        add_account(accounts, SystemClock(), name=name, roles={role}, password=PASSWORD, actor="Ada")

"""The registry as one request sees it: opened when asked for, closed with the answer."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from fastapi import Request

from registry.web.settings import Settings

if TYPE_CHECKING:
    from registry.storage.account_file import AccountFile
    from registry.storage.family_file import FamilyFile
    from registry.storage.register import GeoPackageRegister

__all__ = ["accounts_of", "families_of", "reading", "settings_of", "writing"]


def settings_of(request: Request) -> Settings:
    """Give what the application was told at its start."""
    settings: Settings = request.app.state.settings
    return settings


@contextmanager
def reading(request: Request) -> "Iterator[GeoPackageRegister]":
    """Open the registry for reading; RegistryError where it cannot be."""
    from registry.storage.geopackage import open_register

    settings = settings_of(request)
    with open_register(settings.registry, clock=settings.clock, writable=False) as register:
        yield register


@contextmanager
def writing(request: Request) -> "Iterator[GeoPackageRegister]":
    """Open the registry for writing; BusyError where another writer holds it too long."""
    from registry.storage.geopackage import open_register

    settings = settings_of(request)
    with open_register(settings.registry, clock=settings.clock) as register:
        yield register


def accounts_of(request: Request) -> "AccountFile":
    """Give where accounts, sessions, tokens and links of families are kept."""
    from registry.storage.account_file import open_accounts

    return open_accounts(settings_of(request).registry)


def families_of(request: Request, register: "GeoPackageRegister") -> "FamilyFile":
    """Give where contacts of families are kept."""
    from registry.storage.family_file import FamilyFile, family_file_of

    return FamilyFile(family_file_of(settings_of(request).registry), origin=register.origin)

"""The file of accounts: where it lies, and its tables."""

import os
import sqlite3
from pathlib import Path

__all__ = ["ACCOUNTS_APPLICATION_ID", "ACCOUNTS_FORMAT", "account_file_of", "create_account_tables"]

#: "LLac", so that no other SQLite file is taken for it.
ACCOUNTS_APPLICATION_ID = int.from_bytes(b"LLac", "big")
ACCOUNTS_FORMAT = 1

_TABLES = """
CREATE TABLE about (key TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT;
CREATE TABLE accounts (
    name_key TEXT PRIMARY KEY, name TEXT NOT NULL, roles TEXT NOT NULL, password_hash TEXT NOT NULL,
    password_set_at TEXT, made_at TEXT NOT NULL, made_by TEXT NOT NULL,
    disabled INTEGER NOT NULL CHECK (disabled IN (0, 1))
) STRICT;
CREATE TABLE boat_pin (
    one INTEGER PRIMARY KEY CHECK (one = 1), pin_hash TEXT NOT NULL, set_at TEXT NOT NULL,
    set_by TEXT NOT NULL
) STRICT;
CREATE TABLE sessions (
    digest TEXT PRIMARY KEY, account TEXT NOT NULL, opened_at TEXT NOT NULL, last_seen TEXT NOT NULL,
    expires_at TEXT NOT NULL, csrf TEXT NOT NULL, boat INTEGER NOT NULL CHECK (boat IN (0, 1))
) STRICT;
CREATE TABLE tokens (
    token_id TEXT PRIMARY KEY, label TEXT NOT NULL, digest TEXT NOT NULL UNIQUE, scopes TEXT NOT NULL,
    made_by TEXT NOT NULL, made_at TEXT NOT NULL, expires_at TEXT NOT NULL, revoked_at TEXT
) STRICT;
CREATE TABLE family_links (
    digest TEXT PRIMARY KEY, tag TEXT NOT NULL, made_by TEXT NOT NULL, made_at TEXT NOT NULL,
    expires_at TEXT, revoked_at TEXT
) STRICT;
CREATE TABLE sign_ins (
    number INTEGER PRIMARY KEY, time TEXT NOT NULL, name TEXT NOT NULL, address TEXT NOT NULL,
    way TEXT NOT NULL, outcome TEXT NOT NULL
) STRICT;
CREATE INDEX sign_ins_by_time ON sign_ins (time);
CREATE INDEX sign_ins_by_name ON sign_ins (name, time);
CREATE TABLE deeds (
    number INTEGER PRIMARY KEY, time TEXT NOT NULL, actor TEXT NOT NULL, what TEXT NOT NULL,
    about TEXT NOT NULL
) STRICT;
CREATE TRIGGER deeds_stay BEFORE UPDATE ON deeds BEGIN SELECT raise(ABORT, 'what was done stays'); END;
CREATE TRIGGER deeds_remain BEFORE DELETE ON deeds BEGIN SELECT raise(ABORT, 'what was done stays'); END;
"""


def account_file_of(registry: str | os.PathLike[str]) -> Path:
    """Tell where the accounts of a registry are kept; there may be no such file."""
    target = Path(registry).resolve()
    return target.with_name(f"{target.name}.accounts")


def create_account_tables(connection: sqlite3.Connection, *, origin: str, key: str) -> None:
    """
    Make the tables in an empty database.

    Parameters
    ----------
    connection : sqlite3.Connection
        To the database.
    origin : str
        Of the registry that the file lies beside.
    key : str
        Secret of this file, behind what stands for names that nobody has.
    """
    connection.executescript(_TABLES)
    connection.execute(f"PRAGMA application_id = {ACCOUNTS_APPLICATION_ID}")
    connection.execute(f"PRAGMA user_version = {ACCOUNTS_FORMAT}")
    connection.executemany("INSERT INTO about VALUES (?, ?)", [("registry", origin), ("key", key)])

"""What stands in a session file: its tables, its mark, and the seal that counts what is in it."""

import sqlite3
import zlib
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Self

from daemon.core.rules import FORMAT
from shared.job import Header

APPLICATION_ID = 0x53424C44  # "SBLD"
PAGE = 4096

OLDEST = """
CREATE TABLE header (json TEXT NOT NULL, crc INTEGER NOT NULL);
CREATE TABLE chunks (id INTEGER PRIMARY KEY, level TEXT NOT NULL, first_ns INTEGER NOT NULL,
    count INTEGER NOT NULL, crc INTEGER NOT NULL, data BLOB NOT NULL);
CREATE TABLE inputs (t_ns INTEGER PRIMARY KEY, json TEXT NOT NULL, crc INTEGER NOT NULL);
CREATE TABLE events (n INTEGER PRIMARY KEY, json TEXT NOT NULL, crc INTEGER NOT NULL);
CREATE TABLE reach (t_ns INTEGER NOT NULL);
"""
"""The tables a file of this format must have; the first ones had no others."""
SEAL = """
CREATE TABLE seal (commits INTEGER NOT NULL, chunks INTEGER NOT NULL, inputs INTEGER NOT NULL,
    events INTEGER NOT NULL, reach_ns INTEGER NOT NULL, crc INTEGER NOT NULL);
"""
SCHEMA = OLDEST + SEAL


@dataclass(frozen=True, slots=True)
class Seal:
    """How much a file holds, rewritten by every commit: a lost row leaves it wrong."""

    commits: int = 0
    chunks: int = 0
    inputs: int = 0
    events: int = 0
    reach_ns: int = 0

    def after(self, chunks: int, inputs: int, events: int, reach_ns: int) -> Self:
        """Return the seal after one more commit of so many rows."""
        return replace(
            self,
            commits=self.commits + 1,
            chunks=self.chunks + chunks,
            inputs=self.inputs + inputs,
            events=self.events + events,
            reach_ns=reach_ns,
        )

    def row(self) -> tuple[int, ...]:
        """Return what is stored, checksum last."""
        values = (self.commits, self.chunks, self.inputs, self.events, self.reach_ns)
        return (*values, crc_of(" ".join(map(str, values))))


def crc_of(text: str) -> int:
    """Return the checksum of a text, as every row carries it."""
    return zlib.crc32(text.encode())


def statements(schema: str) -> dict[str, str]:
    """Return the statement of every table by the table's name."""
    found = [part.strip() for part in schema.split(";") if part.strip()]
    return {part.split()[2]: part for part in found}


def write_new(path: Path, header: Header) -> None:
    """Make a session file in one transaction: it is whole or has nothing in it.

    The header stands in it twice, so that one broken page does not cost the session.

    Raises:
        sqlite3.Error: it cannot be written.
    """
    database = sqlite3.connect(path, isolation_level=None)
    try:
        database.execute("PRAGMA synchronous = FULL")
        database.execute("BEGIN IMMEDIATE")
        _make_tables(database, SCHEMA)
        text = header.model_dump_json()
        database.executemany("INSERT INTO header VALUES (?, ?)", [(text, crc_of(text))] * 2)
        database.execute("INSERT INTO reach VALUES (0)")
        database.execute("INSERT INTO seal VALUES (?, ?, ?, ?, ?, ?)", Seal().row())
        database.execute("COMMIT")
    finally:
        database.close()


@cache
def first_page(schema: str) -> bytes:
    """Return the page that every file with this schema begins with, whatever it holds."""
    database = sqlite3.connect(":memory:", isolation_level=None)
    try:
        database.execute(f"PRAGMA page_size = {PAGE}")
        database.execute("BEGIN")
        _make_tables(database, schema)
        database.execute("COMMIT")
        return database.serialize()[:PAGE]
    finally:
        database.close()


def _make_tables(database: sqlite3.Connection, schema: str) -> None:
    database.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    database.execute(f"PRAGMA user_version = {FORMAT}")
    for statement in statements(schema).values():
        database.execute(statement)

"""Opening the database with its tables up to date, one writing process at a time, failures explained to the painter."""

from __future__ import annotations

import logging
import os
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final

from sqlalchemy import URL, Connection, Engine, create_engine, event, inspect, make_url, text
from sqlalchemy.exc import ArgumentError, NoSuchModuleError, OperationalError, SQLAlchemyError

from swatchread.archive.database_failures import explained, is_busy
from swatchread.archive.tables import Base
from swatchread.errors import ArchiveBusyError, ArchiveError

ARCHIVE_ENVIRONMENT = "SWATCHREAD_ARCHIVE"
_BUSY_SECONDS = 60.0
"""Seconds to wait for another process that writes into the archive; adding 50 cards takes a few."""
_SILENT_SECONDS = 1.0
"""Seconds of waiting after which that is told: a person takes longer silence for a standstill (choice)."""
_POLL_SECONDS = 0.05
"""Seconds between two attempts to become the one that writes."""
_WRITE_LOCK = 0x5377_6174_6368
"""Key of the PostgreSQL advisory lock that writers hold: an arbitrary number of our own."""

REVISION: Final = "0004"
"""The newest revision in `swatchread.archive.migrations.versions`: what the tables in `tables.py` look like."""
VERSION_TABLE: Final = "swatchread_revision"
"""The table in which alembic notes the revision."""

_log = logging.getLogger(__name__)

_DEVELOPMENT_TABLE = "swatchread_schema"
"""A table that only archives from before the first release have."""


def archive_address(given: str | None = None) -> str:
    """Return the address that was given, else that in ``SWATCHREAD_ARCHIVE``, else that of the user's own file.

    Parameters
    ----------
    given : str, optional
        An SQLAlchemy URL, or the path of an SQLite file.
    """
    address = given or os.environ.get(ARCHIVE_ENVIRONMENT)
    if address:
        return address
    from platformdirs import user_data_path

    return str(user_data_path("swatchread", appauthor=False) / "archive.sqlite")


def existing_archive(given: str | None = None) -> str | None:
    """Return the address that `archive_address` gives if an archive may be there, so that asking makes none."""
    address = archive_address(given)
    return address if "://" in address or Path(address).expanduser().is_file() else None


def open_engine(address: str) -> Engine:
    """Return an engine for an archive's address.

    Parameters
    ----------
    address : str
        An SQLAlchemy URL, or the path of an SQLite file. A missing file is made, with its folder.

    Raises
    ------
    ArchiveError
        If the address makes no sense, its driver is not installed or its folder cannot be made.
    """
    url = _url(address)
    try:
        if url.get_backend_name() == "sqlite":
            return _sqlite(url)
        return create_engine(url)
    except ModuleNotFoundError as error:
        raise ArchiveError(
            f"The archive {shown(url)} needs a driver that is not installed",
            str(error),
            'For PostgreSQL: pip install "swatchread[postgresql]"',
        ) from error
    except (ArgumentError, NoSuchModuleError, ValueError) as error:
        raise ArchiveError(f"The archive's address {shown(url)} makes no sense", str(error)) from error
    except OSError as error:
        raise ArchiveError(f"The folder of {shown(url)} cannot be made", error.strerror or str(error)) from error


def shown(url: URL) -> str:
    """Return an address for a message, without its password."""
    if url.get_backend_name() == "sqlite":
        return str(url.database or "in memory")
    try:
        return url.render_as_string(hide_password=True)
    except UnicodeError:  # it holds bytes that are no letters
        return f"{url.drivername}://…"


@contextmanager
def reading(engine: Engine) -> Iterator[Connection]:
    """Provide a connection whose statements all see the same state of the archive.

    Raises
    ------
    ArchiveError
        In place of any failure of the database.
    """
    with _explaining(engine), engine.connect() as plain:
        # By default each statement in PostgreSQL sees what was committed before that statement.
        level = {"isolation_level": "REPEATABLE READ"} if engine.dialect.name == "postgresql" else {}
        yield plain.execution_options(**level)


@contextmanager
def writing(engine: Engine) -> Iterator[Connection]:
    """Provide the only connection that may write. When it is left, all of its changes are kept, or none.

    Raises
    ------
    ArchiveError
        In place of any failure of the database.
    """
    with _explaining(engine), engine.connect() as plain:
        connection = plain.execution_options(swatchread_writes=True)
        with connection.begin():
            if engine.dialect.name == "postgresql":
                lock = f"SELECT pg_try_advisory_xact_lock({_WRITE_LOCK})"
                _wait_until(lambda: bool(connection.exec_driver_sql(lock).scalar()), engine.url)
            yield connection


@contextmanager
def _explaining(engine: Engine) -> Iterator[None]:
    try:
        yield
    except (SQLAlchemyError, UnicodeError, OverflowError) as error:
        raise explained(error, shown(engine.url)) from error


def _wait_until(is_mine: Callable[[], bool], url: URL) -> None:
    """Wait until the archive is free, and tell it if that takes long.

    Raises
    ------
    ArchiveBusyError
        If another program does not let go of it.
    """
    start, told = time.monotonic(), False
    while not is_mine():
        waited = time.monotonic() - start
        if waited > _BUSY_SECONDS:
            raise ArchiveBusyError(
                f"The archive {shown(url)} is in use", f"another program has held it for {_BUSY_SECONDS:.0f} seconds"
            )
        if waited > _SILENT_SECONDS and not told:
            told = True
            _log.warning(
                "The archive %s is in use by another program. Waiting up to %.0f seconds …", shown(url), _BUSY_SECONDS
            )
        time.sleep(_POLL_SECONDS)


def _url(address: str) -> URL:
    try:
        if "://" not in address:
            return URL.create("sqlite", database=str(Path(address).expanduser()))
        url = make_url(address)
    except (ArgumentError, ValueError, RuntimeError) as error:  # a port that is no number, or a home folder of nobody
        raise ArchiveError(
            "The archive's address makes no sense", "it is neither a file nor an SQLAlchemy URL"
        ) from error
    if url.drivername in {"postgresql", "postgres"}:
        return url.set(drivername="postgresql+psycopg")
    return url


def _sqlite(url: URL) -> Engine:
    # SQLite's rollback journal leaves no side files, so that a painter can copy the archive as one file.
    if url.database and url.database != ":memory:":
        Path(url.database).parent.mkdir(parents=True, exist_ok=True)
    engine = create_engine(url)

    def prepare(connection: Any, _record: Any) -> None:
        connection.isolation_level = None  # `begin` below starts the transactions
        # A damaged text does not keep the others from being read; the checksum of its note tells it.
        connection.text_factory = _text
        connection.execute("PRAGMA foreign_keys = ON")

    def begin(connection: Connection) -> None:
        writes = connection.get_execution_options().get("swatchread_writes", False)
        connection.exec_driver_sql("PRAGMA busy_timeout = 0")
        _wait_until(lambda: _has_begun(connection, writes=writes), url)
        # Readers of the same moment end soon; the writer waits for them when it is done.
        connection.exec_driver_sql(f"PRAGMA busy_timeout = {_BUSY_SECONDS * 1000:.0f}")

    event.listen(engine, "connect", prepare)
    event.listen(engine, "begin", begin)
    return engine


def _text(data: bytes) -> str:
    return data.decode("utf-8", "surrogateescape")


def _has_begun(connection: Connection, *, writes: bool) -> bool:
    """Begin a transaction of SQLite, unless another process is in the way."""
    try:
        # Taking the lock at once lets two writers wait for each other instead of failing half-way.
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")
    except OperationalError as error:
        if is_busy(error):
            return False
        raise
    try:
        connection.exec_driver_sql("SELECT 1 FROM sqlite_master LIMIT 1").all()
    except OperationalError as error:
        if getattr(connection.connection.dbapi_connection, "in_transaction", False):  # else it was rolled back already
            connection.exec_driver_sql("ROLLBACK")
        if is_busy(error):
            return False
        raise
    return True


def is_up_to_date(connection: Connection) -> bool:
    """Say whether an archive has the tables that this program works with; this needs no alembic."""
    return _revision(connection) == REVISION


def bring_up_to_date(connection: Connection) -> None:
    """Make the tables of an empty archive, or change older ones into today's.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        The only one that may write meanwhile. All is done in its transaction.

    Raises
    ------
    ArchiveError
        If a later version of swatchread or a development version made the archive, or the database is something else.
    """
    from alembic import command
    from alembic.config import Config
    from alembic.script import ScriptDirectory

    config = Config(attributes={"connection": connection})
    config.set_main_option("script_location", "swatchread.archive:migrations")
    found = _revision(connection)
    if found is None:
        _refuse_other_tables(connection)
        Base.metadata.create_all(connection)
        command.stamp(config, "head")
        return
    if found not in {script.revision for script in ScriptDirectory.from_config(config).walk_revisions()}:
        raise ArchiveError(
            "The archive was made by a newer swatchread",
            f"its tables are of revision {found}, this program knows up to {REVISION}",
            "Update swatchread",
        )
    command.upgrade(config, "head")


def _revision(connection: Connection) -> str | None:
    """Return the revision of the archive's tables, or None if there are none."""
    if not inspect(connection).has_table(VERSION_TABLE):
        return None
    revision: str | None = connection.execute(text(f"SELECT version_num FROM {VERSION_TABLE}")).scalar()  # noqa: S608
    return revision


def _refuse_other_tables(connection: Connection) -> None:
    present = set(inspect(connection).get_table_names())
    if _DEVELOPMENT_TABLE in present:
        raise ArchiveError(
            "The archive was made by a development version of swatchread",
            "its tables are older than the first release",
            "Name a new archive with --archive and add the note files to it: `swatchread archive add NOTE`",
        )
    taken = present & set(Base.metadata.tables)
    if taken:
        raise ArchiveError("This database is not an archive", f"it has a table {min(taken)} of another kind")

"""What a failure of the database means for the painter."""

from __future__ import annotations

from typing import Final

from swatchread.errors import ArchiveBusyError, ArchiveError, ArchiveUnwritableError

_SQLITE: Final[dict[str, type[ArchiveError]]] = {
    "SQLITE_BUSY": ArchiveBusyError,
    "SQLITE_LOCKED": ArchiveBusyError,
    "SQLITE_FULL": ArchiveUnwritableError,
    "SQLITE_IOERR": ArchiveUnwritableError,
    "SQLITE_READONLY": ArchiveUnwritableError,
}
"""First words of SQLite's name of a result -> the error (sqlite.org/rescode.html)."""

_POSTGRESQL: Final[dict[str, type[ArchiveError]]] = {
    "53100": ArchiveUnwritableError,  # disk_full
    "25006": ArchiveUnwritableError,  # read_only_sql_transaction
    "42501": ArchiveUnwritableError,  # insufficient_privilege
    "55P03": ArchiveBusyError,  # lock_not_available
    "40P01": ArchiveBusyError,  # deadlock_detected
}
"""SQLSTATE -> the error (PostgreSQL's documentation, appendix A)."""

_DAMAGED: Final = (
    "Copy the file before anything else. `swatchread archive check` says which cards are damaged; "
    "the note files can be added to a new archive with --archive"
)
_TOO_LARGE: Final = "a number is larger than the archive holds", "Give a smaller number"
_NO_LETTERS: Final = "a text holds bytes that are no letters", "Write it again, in plain letters"


def explained(error: Exception, where: str) -> ArchiveError:
    """Return what a painter is told of a failure.

    Parameters
    ----------
    error : Exception
        Of SQLAlchemy or of a driver.
    where : str
        The archive's address, without a password.
    """
    if isinstance(error, UnicodeError | OverflowError):  # the driver cannot pass it on
        return ArchiveError(
            "The archive cannot take this", *(_NO_LETTERS if isinstance(error, UnicodeError) else _TOO_LARGE)
        )
    cause = getattr(error, "orig", None) or error
    lines = str(cause).strip().splitlines()
    what, why = f"The archive {where} failed", lines[0] if lines else ""
    name, state = getattr(cause, "sqlite_errorname", None) or "", getattr(cause, "sqlstate", None) or ""
    if name.startswith(("SQLITE_CORRUPT", "SQLITE_FORMAT")):
        return ArchiveError(what, why, _DAMAGED)
    kind = next((kind for start, kind in _SQLITE.items() if name.startswith(start)), _POSTGRESQL.get(state))
    if kind is not None:
        return kind(what, why)
    if state.startswith("22"):  # data_exception: a number or a text that does not fit
        return ArchiveError("The archive cannot take this", why, "Give smaller numbers, in plain letters")
    return ArchiveError(what, why)


def is_busy(error: Exception) -> bool:
    """Tell whether a statement failed because another process holds the archive."""
    return isinstance(explained(error, ""), ArchiveBusyError)

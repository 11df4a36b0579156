"""What is doubtful about the notes in a folder, and about photos that the last `read` of it could not read."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from swatchread.batch.batch_report import REPORT_NAME
from swatchread.errors import NoteError, UsageError
from swatchread.note.doubts import Doubt, doubts_of, unread_photo
from swatchread.note.model import load_note

_SUFFIX = ".note.json"


@dataclass(frozen=True, slots=True)
class FileDoubt:
    """A doubt, and the file of the note that it is about; None for a photo that was not read."""

    doubt: Doubt
    note: Path | None = None


def doubts_in(folder: Path) -> list[FileDoubt]:
    """Return what is doubtful in a folder and below, in no order.

    Parameters
    ----------
    folder : pathlib.Path
        With notes, or with photos that were read into it. Notes that were set aside are passed over.

    Raises
    ------
    UsageError
        If it is no folder, or nothing in it was read.
    """
    if not folder.is_dir():
        raise UsageError(f"{folder} is not a folder", "", "Name the folder with the notes, or none for your archive")
    found: list[FileDoubt] = []
    notes = [path for path in sorted(folder.rglob(f"*{_SUFFIX}")) if ".earlier-" not in path.name]
    for path in notes:
        try:
            note = load_note(path)
        except NoteError as error:
            found.append(FileDoubt(unread_photo(str(path), path.name, (error.what, error.why, error.remedy))))
            continue
        found += [FileDoubt(doubt, path) for doubt in doubts_of(note)]
    reports = sorted(folder.rglob(REPORT_NAME))
    if not notes and not reports:
        raise UsageError(f"Nothing in {folder} was read yet", "", f"Read its photos first: swatchread read {folder}")
    return [*(one for report in reports for one in _unread(report)), *found]


def _unread(report: Path) -> Iterator[FileDoubt]:
    try:
        with report.open(encoding="utf-8-sig", newline="") as file:
            for row in csv.DictReader(file):
                if row.get("state") == "failed":
                    told = [row.get(key) or "" for key in ("what", "why", "remedy")]
                    photo = row.get("photo") or ""
                    yield FileDoubt(unread_photo(photo, photo, told))
    except (OSError, UnicodeDecodeError, csv.Error):  # another file of that name
        return

"""A starter on the desktop that opens the page by a double click."""

from __future__ import annotations

import sys
from pathlib import Path

_NAME = "swatchread"


def write_shortcut(folder: Path | None = None, platform: str = sys.platform) -> Path:
    """Write a starter.

    Parameters
    ----------
    folder : pathlib.Path, optional
        By default the desktop.
    platform : str
        As `sys.platform` names it.

    Returns
    -------
    pathlib.Path

    Raises
    ------
    OutputError
        If it cannot be written.
    """
    from swatchread.errors import OutputError
    from swatchread.note.safe_files import write_text

    if folder is None:
        from platformdirs import user_desktop_path

        folder = user_desktop_path()
    suffix, text = _starter(platform, sys.executable)
    path = folder / f"{_NAME}{suffix}"
    write_text(path, text)
    if platform != "win32":
        try:
            path.chmod(0o755)
        except OSError as error:
            raise OutputError(f"{path.name} could not be made a program", error.strerror or str(error)) from error
    return path


def _starter(platform: str, python: str) -> tuple[str, str]:
    """Return the suffix and the text of a starter."""
    if platform == "win32":
        return ".bat", f'@echo off\r\n"{python.replace("%", "%%")}" -m swatchread open\r\nif errorlevel 1 pause\r\n'
    if platform == "darwin":
        quoted = "'" + python.replace("'", "'\\''") + "'"
        return ".command", f"#!/bin/sh\nexec {quoted} -m swatchread open\n"
    # Desktop Entry Specification 1.5: in quotes these four are escaped, and backslashes of the whole value once more.
    escaped = "".join("\\" + letter if letter in '"`$\\' else letter for letter in python).replace("\\", "\\\\")
    escaped = escaped.replace("%", "%%")
    return ".desktop", (
        "[Desktop Entry]\nType=Application\nName=swatchread\nComment=Painted swatch cards, measured and found again\n"
        f'Exec="{escaped}" -m swatchread open\nTerminal=true\nCategories=Graphics;\n'
    )

"""The program run within the tests' own process."""

import io
import os
import sys
from contextlib import redirect_stderr, redirect_stdout
from types import SimpleNamespace
from unittest.mock import patch


def invoke(*words, **kept):
    """Run a command; its own failures are raised, wrong usage is the result's exit status."""
    from typer.testing import CliRunner

    from swatchread.cli.main import app

    result = CliRunner().invoke(app, [str(word) for word in words], **kept)
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


def program(*words):
    """Run a whole command line, faults told as to a painter; return its `returncode`, `stdout` and `stderr`."""
    from swatchread.cli.main import run

    out, err, status = io.StringIO(), io.StringIO(), 0
    with (
        patch.object(sys, "argv", ["swatchread", *map(str, words)]),
        patch.dict(os.environ, {"COLUMNS": "120"}),
        redirect_stdout(out),
        redirect_stderr(err),
    ):
        try:
            run()
        except SystemExit as left:
            status = left.code or 0
    return SimpleNamespace(returncode=status, stdout=out.getvalue(), stderr=err.getvalue())

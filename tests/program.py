"""The program run within the tests' own process: a command, and the page on which a note is filled in."""

import threading
from contextlib import contextmanager


def invoke(*words, **kept):
    """Run a command; its own failures are raised, wrong usage is the result's exit status."""
    from typer.testing import CliRunner

    from swatchread.cli.main import app

    result = CliRunner().invoke(app, [str(word) for word in words], **kept)
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


@contextmanager
def served(path):
    """Serve the page of a note, and give its server with the thread that it runs in."""
    from swatchread.page.note_keeper import NoteKeeper
    from swatchread.page.server import FillServer
    from swatchread.recipes.tubes import load_tubes

    server = FillServer(NoteKeeper(path), load_tubes())
    server.thread = threading.Thread(target=server.serve)
    server.thread.start()
    try:
        yield server
    finally:
        server.stop()
        server.thread.join(timeout=10)
    assert not server.thread.is_alive()

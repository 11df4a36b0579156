"""The program run within the tests' own process."""


def invoke(*words, **kept):
    """Run a command; its own failures are raised, wrong usage is the result's exit status."""
    from typer.testing import CliRunner

    from swatchread.cli.main import app

    result = CliRunner().invoke(app, [str(word) for word in words], **kept)
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result

"""Archives to test with: SQLite always, PostgreSQL when a server is named."""

import os
import sys

import pytest

from tests.postgres_schema import schema_of

# One worker runs on each core; more threads of linear algebra only wait for one another. Set before numpy loads.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
# Commands that are started find their bytecode, as an installed program does; else each compiles the program anew.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

POSTGRES_ENVIRONMENT = "SWATCHREAD_TEST_POSTGRES"


@pytest.fixture(params=["sqlite", "postgresql"])
def address(request, tmp_path):
    """Name an empty archive of its own."""
    if request.param == "sqlite":
        yield str(tmp_path / "archive.sqlite")
    else:
        yield from _postgres_schema()


@pytest.fixture
def postgres_address():
    yield from _postgres_schema()


def _postgres_schema():
    server = os.environ.get(POSTGRES_ENVIRONMENT)
    if not server:
        pytest.skip(f"no PostgreSQL server: {POSTGRES_ENVIRONMENT} names none")
    with schema_of(server) as own:
        yield own


@pytest.fixture
def typed(monkeypatch, capsys):
    """Type a command line; return (exit status, standard output, standard error)."""
    from swatchread.cli.main import run

    def type_in(*words):
        monkeypatch.setattr(sys, "argv", ["swatchread", *map(str, words)])
        with pytest.raises(SystemExit) as left:
            run()
        said = capsys.readouterr()
        return left.value.code or 0, said.out, said.err

    return type_in


@pytest.fixture(scope="session")
def photograph(tmp_path_factory):
    """Draw a scene once a session: a function from a spec to (path of its photo, scene)."""
    from tests.scene import draw, save

    folder, drawn = tmp_path_factory.mktemp("photos"), {}

    def taken(spec):
        if spec not in drawn:
            scene = draw(spec)
            drawn[spec] = save(scene, folder / f"photo {len(drawn)}.jpg"), scene
        return drawn[spec]

    return taken


@pytest.fixture(scope="session")
def reading(photograph):
    """Read a scene once a session: a function from a spec to (Reading, scene)."""
    from swatchread.reading import read_card

    done = {}

    def read(spec):
        if spec not in done:
            path, scene = photograph(spec)
            done[spec] = read_card(path), scene
        return done[spec]

    return read


@pytest.fixture(scope="session")
def world():
    """Invent an archive to mix from."""
    from tests.mixing_data import invented_world

    return invented_world(cards=40, seed=4)


@pytest.fixture(scope="session")
def palette(world):
    """Fit the mixing model to the invented archive."""
    from tests.bench.mixing import open_world

    return open_world(world)


@pytest.fixture(scope="session")
def fitted(palette):
    """Fit a dozen of its cards, for what needs the fit itself: they are enough, and quick."""
    import numpy as np

    from swatchread.palette.mixture_fit import fit

    samples = palette.collected.samples
    return fit(samples.take(np.flatnonzero(samples.card < 12)))

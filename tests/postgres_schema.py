"""An empty schema of its own on a PostgreSQL server, gone afterwards."""

import uuid
from contextlib import contextmanager


@contextmanager
def schema_of(server):
    """Provide the address of an archive that does not exist yet."""
    from sqlalchemy import create_engine, make_url, text

    schema = f"test_{uuid.uuid4().hex}"
    url = make_url(server).set(drivername="postgresql+psycopg")
    engine = create_engine(url)
    with engine.begin() as connection:
        connection.execute(text(f"CREATE SCHEMA {schema}"))
    try:
        own = url.update_query_dict({"options": f"-csearch_path={schema}"})
        yield own.render_as_string(hide_password=False)
    finally:
        with engine.begin() as connection:
            connection.execute(text(f"DROP SCHEMA {schema} CASCADE"))
        engine.dispose()

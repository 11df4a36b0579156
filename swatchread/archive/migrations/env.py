"""Run by alembic: bring an archive's tables up to date on the connection that was handed over."""

from alembic import context

from swatchread.archive.database import VERSION_TABLE
from swatchread.archive.tables import Base

context.configure(
    connection=context.config.attributes["connection"], target_metadata=Base.metadata, version_table=VERSION_TABLE
)
with context.begin_transaction():
    context.run_migrations()

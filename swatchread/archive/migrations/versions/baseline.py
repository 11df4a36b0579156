"""The tables of the first release, from which later revisions go on.

A new archive gets the tables of `swatchread.archive.tables` as they are, and starts at the newest revision. So nothing
is to be done here: a revision only holds what changes in the archives that painters already have.
"""

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Change nothing: no release came before."""

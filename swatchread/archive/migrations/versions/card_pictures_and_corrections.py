"""Pictures of the cards, and the corrections of a reading that can be undone."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Make the tables; the cards that are there have no pictures yet."""
    op.create_table(
        "pictures",
        sa.Column("digest", sa.String(64), primary_key=True),
        sa.Column("media_type", sa.String(40), nullable=False),
        sa.Column("data", sa.LargeBinary(), nullable=False),
    )
    op.create_table(
        "card_pictures",
        sa.Column(
            "card_id",
            sa.Integer(),
            sa.ForeignKey("cards.id", ondelete="CASCADE"),
            primary_key=True,
            autoincrement=False,
        ),
        sa.Column("step", sa.Integer(), primary_key=True, autoincrement=False),
        sa.Column("role", sa.String(40), primary_key=True),
        sa.Column("digest", sa.String(64), sa.ForeignKey("pictures.digest"), nullable=False),
    )
    op.create_index("ix_card_pictures_digest", "card_pictures", ["digest"])
    op.create_table(
        "corrections",
        sa.Column("id", sa.Integer(), primary_key=True),
        sa.Column("card_id", sa.Integer(), sa.ForeignKey("cards.id", ondelete="CASCADE"), nullable=False),
        sa.Column("hints", sa.Text(), nullable=False),
        sa.Column("note_json", sa.Text(), nullable=False),
    )
    op.create_index("ix_corrections_card_id", "corrections", ["card_id"])
    op.create_table(
        "card_hints",
        sa.Column(
            "card_id",
            sa.Integer(),
            sa.ForeignKey("cards.id", ondelete="CASCADE"),
            primary_key=True,
            autoincrement=False,
        ),
        sa.Column("hints", sa.Text(), nullable=False),
    )

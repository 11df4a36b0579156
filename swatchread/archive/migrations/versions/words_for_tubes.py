"""The painter's own words for tubes; and recipes are searched by the words that stand in them."""

import sqlalchemy as sa
from alembic import op

from swatchread.archive.note_rows import tube_key
from swatchread.recipes.recipe import tube_words
from swatchread.recipes.tubes import load_tubes

revision = "0004"
down_revision = "0003"

_AT_ONCE = 5000


def upgrade() -> None:
    """Make the table of words, and derive anew what is searched of recipes."""
    op.create_table(
        "own_tubes",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("painter", sa.String(120), nullable=False),
        sa.Column("word_key", sa.Text, nullable=False),
        sa.Column("word", sa.Text, nullable=False),
        sa.Column("tube", sa.Text, nullable=False),
        sa.Column("pigments", sa.Text, nullable=False),
        sa.UniqueConstraint("painter", "word_key", name="one_meaning_a_word"),
    )
    connection = op.get_bind()
    searched = sa.table("swatch_tubes", sa.column("swatch_id"), sa.column("tube"))
    swatches = sa.table("swatches", sa.column("id"), sa.column("recipe"))
    connection.execute(sa.delete(searched))
    listed = load_tubes()
    rows = connection.execute(sa.select(swatches.c.id, swatches.c.recipe).where(swatches.c.recipe != "")).all()
    words = {recipe: {tube_key(word) for word in tube_words(recipe, listed)} for recipe in {r.recipe for r in rows}}
    found = [{"swatch_id": row.id, "tube": word} for row in rows for word in sorted(words[row.recipe])]
    for start in range(0, len(found), _AT_ONCE):
        connection.execute(sa.insert(searched), found[start : start + _AT_ONCE])

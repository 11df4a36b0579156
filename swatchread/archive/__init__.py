"""A database of notes, and how it is searched."""

"""Writing recipes and card information into a note: by a local page, in the terminal, from a table."""

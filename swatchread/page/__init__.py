"""The local page, where recipes and card information are written into a note."""

"""The local page: recipes and card information written into a note."""

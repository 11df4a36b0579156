"""swatchread: a painter's swatch card, read from one photo into a measured note."""

__version__ = "0.1.0"

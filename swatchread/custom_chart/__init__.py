"""Charts of the painter's own: a strip measured beside a known chart, or a table of measured values."""

"""Charts of the painter's own: a strip of chips measured by photo, or a chart's values measured by an instrument."""

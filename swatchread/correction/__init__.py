"""From camera values and light to CIELAB with an uncertainty."""

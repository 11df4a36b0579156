"""CIELAB, CIEDE2000, Munsell, a painter's terms and screen colours."""

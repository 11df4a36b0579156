"""What is measured of a card that was found: its paint, its bare ground, and what lies round card and chart."""

"""Quiet surfaces on the table, each of which may be a card's ground, and the painted areas on them."""

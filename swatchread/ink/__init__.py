"""The ink on a card: where each swatch's writing stands, and which way up the card is read."""

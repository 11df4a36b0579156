"""What the painter points at or tells: corners, rows and columns, which card is meant, single swatches."""

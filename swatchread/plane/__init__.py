"""The table seen from straight above, and its colours as the card finder uses them."""

"""The table seen from straight above, its colours as the card finder uses them, and the settings of the finder."""

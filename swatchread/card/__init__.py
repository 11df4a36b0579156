"""The painted cards in a photo: the table seen from straight above, each card's ground, its swatches and their grid."""

"""Which surface on the table is a painted card, and how far it reaches; several cards in one photo."""

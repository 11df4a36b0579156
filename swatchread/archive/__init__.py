"""Notes in a database, and the questions asked of it."""

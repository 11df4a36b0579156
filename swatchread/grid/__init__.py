"""Painted areas in rows and columns: which belong, what lies between them, and paint in empty places."""

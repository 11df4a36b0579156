"""Damaged and hostile input: whatever a file or a line of text holds, the answer is a reading or a SwatchreadError."""

"""The record of a reading: its model, its warnings, its crops of handwriting and its files."""

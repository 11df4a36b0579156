"""Amounts, the grammar of a recipe, and tubes of paint."""

"""Synthetic captures from recipes, with their exact truth."""

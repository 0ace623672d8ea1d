"""Captures and setups, read and written: the only room that touches a file."""

"""The shared state: one small object a concern."""

"""Background jobs."""

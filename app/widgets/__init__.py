"""Timeline, probe cards, range bars, tables."""

"""Frozen data: captures, setups, spans and results. Uses no other room of `analysis`."""

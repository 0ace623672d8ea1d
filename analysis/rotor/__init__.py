"""True of shafts: phase reference, revolutions, vectors, orbits, positions."""

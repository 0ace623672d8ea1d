"""The desktop program: window, command line, background work."""

"""Numbers of shaft proximity probes. Knows files and signals; never a window."""

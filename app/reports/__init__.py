"""Reports on paper and in files."""

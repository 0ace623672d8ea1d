"""Icons, help pages, fonts."""

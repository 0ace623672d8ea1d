"""One file a picture; style is the only maker of pens, colours and fonts."""

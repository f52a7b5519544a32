"""Which rows stand where files repeat or correct each other, and their hand-over."""

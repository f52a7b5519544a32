"""One module for each kind of flag, and the list they make."""

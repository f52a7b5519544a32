"""What the user can mend: shown as its message alone; and Ctrl-C. Everything else is a bug."""

STOPS: list[int] = []  # grows with each Ctrl-C since the command began


class SquadsidesError(Exception):
    """Stops a command with one plain sentence and exit status 1."""

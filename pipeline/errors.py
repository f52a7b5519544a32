"""What the user can mend: shown as its message alone. Everything else is a bug."""


class SquadsidesError(Exception):
    """Stops a command with one plain sentence and exit status 1."""

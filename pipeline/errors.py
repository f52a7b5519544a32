"""What the user can mend: shown as its message alone; and Ctrl-C. Everything else is a bug."""

import signal

# What asks a command to stop: Ctrl-C, a system that shuts down, a window that is closed.
ASKED = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)
STOPS: list[int] = []  # grows with each of them since the command began


class SquadsidesError(Exception):
    """Stops a command with one plain sentence and exit status 1."""

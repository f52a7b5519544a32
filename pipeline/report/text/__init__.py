"""Which sentence is said about a number, a name, a decision; the language file."""

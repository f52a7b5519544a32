"""The report of one athlete."""

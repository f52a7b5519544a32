"""Mistakes of a whole file that no single row shows."""

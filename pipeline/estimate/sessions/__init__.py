"""Trials as arrays, the error of a test, and the differences of sessions."""

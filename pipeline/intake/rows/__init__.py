"""Grids of each kind of export into typed rows."""

"""Bytes of any export into grids of text cells, within one budget of memory."""

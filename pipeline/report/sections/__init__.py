"""Sections that several pages share, as page models."""

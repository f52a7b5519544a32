"""The reports folder: tables, sheets to fill in, which pages are new, how it gets into place."""

"""squadsides: weekly left/right reports with how sure each one is."""

"""One part of the squads, from its rows to its pages, and where that is worked out."""

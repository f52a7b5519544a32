"""The meeting pack of a squad: what a meeting of twenty minutes needs, and no more."""

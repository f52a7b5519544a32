"""The reference of a squad: everything to look up behind the meeting pack."""

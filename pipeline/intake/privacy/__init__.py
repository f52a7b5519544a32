"""People taken out, and weeks that can be shared under codes."""

"""What meetings decided, what of it stands today, and what was known when."""

"""What the command line offers besides build, check and templates."""

"""What the program is called and which version this is; pyproject.toml says the same."""

NAME, VERSION = "squadsides", "0.1.0"

"""What the program is called and which version this is; pyproject.toml says the same."""

NAME, VERSION = "squadsides", "0.1.0"
# What it is tested with, from and to; what comes later may do as well.
LEAST_PYTHON, NEWEST_PYTHON = (3, 11, 2), (3, 14)


def dotted(version: "tuple[int, ...]") -> str:
    """(3, 11, 2) as people write it."""
    return ".".join(map(str, version))

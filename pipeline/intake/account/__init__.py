"""The account of every row: read, refused with its reason, repeated, and what bears on care."""

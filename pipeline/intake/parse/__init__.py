"""Text of one cell into what it means: numbers, dates, sides, units, pain."""

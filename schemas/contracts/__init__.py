"""The pandera models: rows as the intake hands them over, and every relation of the warehouse."""

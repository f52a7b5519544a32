"""The filter that follows change: its prior, how often people change, its course and back."""

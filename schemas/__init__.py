"""What the exports must hold, and the catalogue of measures and exercises, as data."""

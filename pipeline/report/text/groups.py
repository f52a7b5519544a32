"""Groups of measures, in the order in which pages show them."""

from pipeline.catalogue.entries import TRAINING_RECORD

GROUPS = [
    "strength", "grip", "power_jump", "hop", "change_of_direction", "balance", "range_of_motion",
    "muscular_endurance", "size", "structure", TRAINING_RECORD,
]  # fmt: skip

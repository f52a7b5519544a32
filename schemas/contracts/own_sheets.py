"""What our own workbooks hold beside what people write into them, and how the intake knows it."""

# The first cell of a sheet that is there to be looked at: lists to choose from, explanations.
NOT_READ = "Not read:"
# Ids of the invented people of the templates; their rows are examples and never data.
EXAMPLES = ("EXAMPLE-1", "EXAMPLE-2")
# Columns of the sheets that are printed, filled in and dropped back, in their order.
TRIALS = 3
TESTS_COLUMNS = (
    "athlete_id", "name", "tested_on", "test", "first_side", "left_1", "right_1", "left_2",
    "right_2", "left_3", "right_3", "unit", "pain", "note",
)  # fmt: skip
TRAINING_COLUMNS = (
    "athlete_id", "name", "trained_on", "exercise", "set_number", "side", "planned_reps",
    "planned_load", "reps", "load", "unit", "done", "order", "rir", "tempo", "pain", "note",
)  # fmt: skip

"""What the numbers mean for the meeting: verdicts, flags, and the next block of training."""

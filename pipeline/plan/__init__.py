"""From what was found and decided to what each athlete does next."""

"""From a test, a lower side and an athlete's own week to days of training, week by week."""

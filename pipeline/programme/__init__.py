"""From a finding and an athlete's own week to days of training, week by week."""

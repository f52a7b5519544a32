"""Tests, in the order of the rooms they test; tests.sample writes the sample exports."""

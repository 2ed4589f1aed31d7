"""Lots for the tests, by what they are for: written files, records, generated, planned."""

STORE = "RUNOFF_TESTS_STORE"
"""Names the folder, in the environment, where a run's processes keep what they make once."""

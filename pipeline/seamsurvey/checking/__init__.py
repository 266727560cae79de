"""Checking: whether what was measured is what was wanted, as far as the measurement can tell."""

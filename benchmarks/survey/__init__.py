"""Thousands of random but buildable bows, walked: see ``python -m benchmarks.survey --help``."""

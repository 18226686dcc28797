"""Timings, each beside a floor measured in the same run: ``python -m benchmarks.speed``."""

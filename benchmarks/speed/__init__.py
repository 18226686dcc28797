"""Timings, with a floor of the machine beside each."""

"""Plots, by matplotlib."""

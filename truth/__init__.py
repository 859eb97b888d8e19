"""Comparison of the models with published and simulated results."""

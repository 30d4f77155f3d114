"""Loads on a standing machine: what every joint and drive answers, and what its rating says."""

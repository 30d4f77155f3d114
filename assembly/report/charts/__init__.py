"""Drawings over the drives and over time, by matplotlib."""

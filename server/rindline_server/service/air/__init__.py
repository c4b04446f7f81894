"""Readings of sensors, and the air of rooms made of them."""

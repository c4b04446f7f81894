"""The conditions of a lot: its way, the air along it, what was done, its ages."""

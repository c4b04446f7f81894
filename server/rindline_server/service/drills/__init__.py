"""Recall drills: what a trace reaches, who holds it, and the balance to the gram."""

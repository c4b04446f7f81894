"""Wheels side by side: how they lost weight, and what sets those judged well apart."""

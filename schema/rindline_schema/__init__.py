"""The contract of Rindline: what server and SDK say to one another, defined once.

Depends on msgspec only. ``events`` is what is told, ``answers`` what is answered, ``problems``
what can go wrong, ``operations`` how each is called.
"""

__all__ = ["SAFETY_NOTE"]

SAFETY_NOTE = (
    "Records and computed figures only: whether food is safe is decided by the responsible "
    "person, with the local code, the competent authority and an accredited laboratory."
)
"""The line that every page, report and compliance figure carries."""

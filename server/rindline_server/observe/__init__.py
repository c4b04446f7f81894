"""What the server says about itself: structured logs and metrics."""

__all__: list[str] = []

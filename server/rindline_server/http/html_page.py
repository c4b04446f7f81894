"""The frame of the server's own HTML pages: no script, nothing loaded from anywhere."""

import base64
import hashlib
from html import escape

__all__ = ["CONTENT_SECURITY_POLICY", "page"]

_STYLE = """
:root { color-scheme: light dark; }
body { font: 1rem/1.5 system-ui, sans-serif; max-width: 60rem; margin: 0 auto; padding: 1rem; }
h1, h2, h3 { line-height: 1.2; }
h2 { margin-top: 2.5rem; border-bottom: 1px solid #8886; }
code, pre { font: 0.9em/1.4 ui-monospace, monospace; }
pre { background: #8882; padding: 0.8rem; overflow-x: auto; border-radius: 4px; }
table { border-collapse: collapse; display: block; overflow-x: auto; }
th, td { text-align: left; vertical-align: top; padding: 0.3rem 0.8rem 0.3rem 0; }
th { border-bottom: 1px solid #8886; }
details { margin: 0.5rem 0; }
summary { cursor: pointer; }
"""

_HASH = base64.b64encode(hashlib.sha256(_STYLE.encode()).digest()).decode()
CONTENT_SECURITY_POLICY = (
    f"default-src 'none'; style-src 'sha256-{_HASH}'; base-uri 'none'; form-action 'none'; "
    "frame-ancestors 'none'"
)
"""Allows the one style sheet in the page, by its hash, and nothing else."""


def page(title: str, content: str) -> bytes:
    """Give a whole page; ``content`` is HTML, ``title`` is not."""
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(title)}</title>\n<style>{_STYLE}</style>\n</head>\n<body>\n"
        f"{content}\n</body>\n</html>\n"
    ).encode()

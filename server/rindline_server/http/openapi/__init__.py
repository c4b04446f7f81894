"""The OpenAPI 3.1 document, built from the catalogue of operations and the contract's types."""

from rindline_server.http.openapi.document import build_document, document_text
from rindline_server.http.openapi.errors_page import errors_text

__all__ = ["build_document", "document_text", "errors_text"]

"""The documentation page: the OpenAPI document made readable, with no internet needed."""

from functools import cache
from html import escape
from typing import Any

import msgspec

from rindline_schema import SAFETY_NOTE
from rindline_schema.problems import PROBLEMS
from rindline_server.http.html_page import page
from rindline_server.http.openapi import build_document

__all__ = ["docs_page", "problem_page"]

_START = """\
<h1>Rindline: the interface</h1>
<p>{description}</p>
<p>The same as a machine reads it: <a href="/openapi.json">/openapi.json</a> (OpenAPI 3.1).
Make a key with <code>rindline-server keys add</code> and try:</p>
<pre>curl -H "Authorization: Bearer $KEY" http://127.0.0.1:8040/v1/key</pre>
"""


_BESIDE = """\
<h2>Beside the operations</h2>
<p><code>GET /metrics</code> gives counts and times by route in Prometheus's text format, for the
key of an auditor or a manager (in Prometheus: <code>authorization: credentials_file</code>).
<code>GET /problems/{code}</code> is the page a problem's <code>type</code> leads to.</p>
<p>Any answer to <code>GET</code> can be asked for by <code>HEAD</code>; <code>OPTIONS</code>
lists an address's methods.</p>
"""


@cache
def docs_page() -> bytes:
    """Give the page."""
    document = build_document()
    description = "</p><p>".join(escape(document["info"]["description"]).split("\n\n"))
    parts = [_START.format(description=_marked(description))]
    parts.append("<h2>Contents</h2>\n<ul>")
    for path, methods in document["paths"].items():
        for method, operation in methods.items():
            parts.append(
                f'<li><a href="#{operation["operationId"]}"><code>{method.upper()} '
                f"{escape(path)}</code></a> {escape(operation['summary'])}</li>"
            )
    parts.append('</ul>\n<p><a href="#types">Types</a>, <a href="#problems">problems</a></p>')
    for path, methods in document["paths"].items():
        for method, operation in methods.items():
            parts.append(_operation(method.upper(), path, operation))
    parts.append(_BESIDE)
    parts.append('<h2 id="types">Types</h2>')
    parts += [_type(name, schema) for name, schema in document["components"]["schemas"].items()]
    parts.append(_problems())
    return page("Rindline: the interface", "\n".join(parts))


@cache
def problem_page(code: str) -> bytes:
    """Give the page of one kind of problem; raises KeyError if there is no such kind."""
    kind = PROBLEMS[code]
    again = (
        "The same request, sent again later, may succeed."
        if kind.retryable
        else "Sending the same request again will not help."
    )
    return page(
        f"{code}: {kind.title}",
        f"<h1>{escape(kind.title)}</h1>\n"
        f"<p>Problem <code>{code}</code>, HTTP status {kind.status}.</p>\n"
        f"<h2>What to do</h2>\n<p>{_marked(escape(kind.what_to_do))} {again}</p>\n"
        "<p>The answer itself says in <code>detail</code> what was wrong with that request, and "
        "its <code>request_id</code> finds it in the server's log. "
        '<a href="/docs#problems">All problems</a></p>\n',
    )


def _operation(method: str, path: str, operation: dict[str, Any]) -> str:
    parts = [
        f'<h2 id="{operation["operationId"]}">{escape(operation["summary"])}</h2>',
        f"<p><code>{method} {escape(path)}</code></p>",
        f"<p>{escape(operation.get('description', 'No key is needed.'))}</p>",
    ]
    if operation["parameters"]:
        rows = "".join(
            f"<tr><td><code>{escape(taken['name'])}</code></td><td>{taken['in']}</td>"
            f"<td>{_kind(taken['schema'])}</td>"
            f"<td>{_marked(escape(taken.get('description', '')))}</td></tr>"
            for taken in operation["parameters"]
        )
        parts.append(f"<h3>Parameters</h3>\n<table>{rows}</table>")
    if "requestBody" in operation:
        body = operation["requestBody"]["content"]["application/json"]
        parts.append(f"<h3>Body</h3>\n<p>{_kind(body['schema'])}</p>")
        parts += [_example(name, example["value"]) for name, example in body["examples"].items()]
    parts.append("<h3>Answers</h3>")
    for status, response in operation["responses"].items():
        parts.append(f"<p><code>{status}</code> {escape(response['description'])}</p>")
        for media, content in response.get("content", {}).items():
            if media != "application/problem+json":
                parts.append(f"<p><code>{escape(media)}</code>: {_kind(content['schema'])}</p>")
            if "example" in content:
                parts.append(_example("an answer", content["example"]))
    return "\n".join(parts)


def _type(name: str, schema: dict[str, Any]) -> str:
    required = schema.get("required", [])
    rows = "".join(
        f"<tr><td><code>{escape(field)}</code></td>"
        f"<td>{_kind(part)}{'' if field in required else ', may be left out'}</td>"
        f"<td>{_marked(escape(_description(part)))}</td></tr>"
        for field, part in schema.get("properties", {}).items()
    )
    return (
        f'<h3 id="type-{name}">{name}</h3>\n'
        f"<p>{_marked(escape(schema.get('description', '')))}</p>\n<table>{rows}</table>"
    )


def _description(schema: dict[str, Any]) -> str:
    branches = (schema, *schema.get("anyOf", ()))
    return next((str(b["description"]) for b in branches if "description" in b), "")


def _kind(schema: dict[str, Any]) -> str:
    """Say what a schema allows, in a few words."""
    if "$ref" in schema:
        name = schema["$ref"].rpartition("/")[2]
        return f'<a href="#type-{name}">{name}</a>'
    if "anyOf" in schema:
        return " or ".join(_kind(branch) for branch in schema["anyOf"])
    if "enum" in schema:
        return " | ".join(f"<code>{escape(str(value))}</code>" for value in schema["enum"])
    if schema.get("type") == "array":
        return f"list of {_kind(schema['items'])}"
    words = [schema.get("format", schema.get("type", "any"))]
    words += [
        f"{word} {schema[limit]}"
        for limit, word in (("minimum", "from"), ("maximum", "to"), ("maxLength", "at most"))
        if limit in schema
    ]
    return escape(" ".join(map(str, words)))


def _example(name: str, value: Any) -> str:
    text = msgspec.json.format(msgspec.json.encode(value)).decode()
    return f"<details><summary>Example: {escape(name)}</summary><pre>{escape(text)}</pre></details>"


def _problems() -> str:
    rows = "".join(
        f'<tr><td><a href="/problems/{code}"><code>{code}</code></a></td><td>{kind.status}</td>'
        f"<td>{escape(kind.title)}</td><td>{_marked(escape(kind.what_to_do))}</td></tr>"
        for code, kind in PROBLEMS.items()
    )
    return (
        '<h2 id="problems">Problems</h2>\n<table><tr><th>code</th><th>status</th>'
        f"<th>means</th><th>what to do</th></tr>{rows}</table>\n<p>{escape(SAFETY_NOTE)}</p>"
    )


def _marked(text: str) -> str:
    """Set what stands between back-ticks as code."""
    parts = text.split("`")
    return "".join(f"<code>{part}</code>" if i % 2 else part for i, part in enumerate(parts))

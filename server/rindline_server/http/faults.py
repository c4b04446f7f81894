"""All faults of a body at once, each with a JSON Pointer (RFC 6901).

msgspec stops at the first fault. So when it has found one, the body is walked along the same
types, and every value in it is put to msgspec by itself.
"""

import types
from collections.abc import Iterator
from functools import cache
from typing import Annotated, Any, Union, get_args, get_origin

import msgspec
from msgspec import Meta, Struct

from rindline_schema.problems import Fault

__all__ = ["MOST_FAULTS", "Repeated", "faults_in"]

MOST_FAULTS = 100
"""More faults than this are not told: a body that bad isn't mended one by one."""


class Repeated(dict[str, Any]):
    """A JSON object in which some names came more than once."""

    repeated: tuple[str, ...] = ()


def faults_in(value: Any, kind: Any) -> list[Fault]:
    """Give the faults of a decoded JSON value against a type, in the order of the body."""
    found: list[Fault] = []
    for fault in _walk(value, kind, ""):
        found.append(fault)
        if len(found) == MOST_FAULTS:
            break
    return found


def _walk(value: Any, kind: Any, pointer: str) -> Iterator[Fault]:
    if isinstance(value, Repeated):
        for name in value.repeated:
            yield Fault(pointer=_under(pointer, name), detail="Given more than once")
    shape = _shape(kind)
    if shape.structs and isinstance(value, dict):
        yield from _walk_object(value, shape, pointer)
    elif shape.items is not None and isinstance(value, list):
        # Its length is a fault of the list itself; the items come after.
        yield from _leaf([None] * len(value), Annotated[list[None], *shape.limits], pointer)
        for index, item in enumerate(value):
            yield from _walk(item, shape.items, f"{pointer}/{index}")
    else:
        yield from _leaf(value, kind, pointer)


def _walk_object(value: dict[str, Any], shape: "_Shape", pointer: str) -> Iterator[Fault]:
    struct, fault = _pick(value, shape, pointer)
    if struct is None:
        if fault is not None:
            yield fault
        return
    known = {field.encode_name: field for field in msgspec.structs.fields(struct)}
    tag_field = struct.__struct_config__.tag_field
    for name, item in value.items():
        if name in known:
            yield from _walk(item, known[name].type, _under(pointer, name))
        elif name != tag_field:
            yield Fault(pointer=_under(pointer, name), detail="Not a known field")
    for name, field in known.items():
        if field.required and name not in value:
            yield Fault(pointer=_under(pointer, name), detail="Missing")


def _pick(
    value: dict[str, Any], shape: "_Shape", pointer: str
) -> tuple[type[Struct] | None, Fault | None]:
    """Find the struct a JSON object is meant to be, by its tag if there are several."""
    tag_field = shape.structs[0].__struct_config__.tag_field
    if tag_field is None:
        return shape.structs[0], None
    under = _under(pointer, tag_field)
    if tag_field not in value:
        return None, Fault(pointer=under, detail="Missing")
    for struct in shape.structs:
        if struct.__struct_config__.tag == value[tag_field]:
            return struct, None
    tags = ", ".join(sorted(str(struct.__struct_config__.tag) for struct in shape.structs))
    return None, Fault(pointer=under, detail=f"None of {tags}")


def _leaf(value: Any, kind: Any, pointer: str) -> Iterator[Fault]:
    try:
        if isinstance(value, str):
            value.encode()
        msgspec.convert(value, kind)
    except UnicodeEncodeError:
        yield Fault(pointer=pointer, detail="Has half of a surrogate pair, which is no character")
    except msgspec.ValidationError as error:
        yield Fault(pointer=pointer, detail=str(error).partition(" - at `")[0])


def _under(pointer: str, name: str) -> str:
    escaped = name.replace("~", "~0").replace("/", "~1")
    # A name with half a surrogate pair couldn't be written into the answer.
    return f"{pointer}/{escaped.encode('utf-8', 'replace').decode()}"


class _Shape(Struct, frozen=True):
    """What a type allows: these structs (by tag), or a list of such items within limits."""

    structs: tuple[type[Struct], ...] = ()
    items: Any = None
    limits: tuple[Meta, ...] = (Meta(),)


@cache
def _shape(kind: Any) -> _Shape:
    limits: tuple[Meta, ...] = (Meta(),)
    while get_origin(kind) is Annotated:
        kind, *metas = get_args(kind)
        limits = tuple(meta for meta in metas if isinstance(meta, Meta)) or limits
    origin = get_origin(kind)
    if origin is list:
        return _Shape(items=get_args(kind)[0], limits=limits)
    if origin in (Union, types.UnionType):
        inner = [_shape(part) for part in get_args(kind) if part is not types.NoneType]
        items = next((shape for shape in inner if shape.items is not None), None)
        if items is not None:
            return items
        return _Shape(structs=tuple(struct for shape in inner for struct in shape.structs))
    if isinstance(kind, type) and issubclass(kind, Struct):
        return _Shape(structs=(kind,))
    return _Shape()

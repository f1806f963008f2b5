"""The one way back from a stored JSON document to the value that it was made of."""

from typing import TYPE_CHECKING, Any, TypeVar

if TYPE_CHECKING:
    from pydantic import TypeAdapter

Value = TypeVar("Value")

_READERS: dict[type, "TypeAdapter[Any]"] = {}


def read_stored(kind: type[Value], document: object) -> Value:
    """Lists become tuples, mappings dataclasses. A key that is not known is left out; one that is missing, or of the wrong
    type, is a ValueError, unless its field has a default."""
    if kind not in _READERS:
        from pydantic import TypeAdapter  # not where a value is only made and printed

        _READERS[kind] = TypeAdapter(kind)
    value: Value = _READERS[kind].validate_python(document)
    return value

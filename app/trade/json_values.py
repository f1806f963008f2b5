"""Plain JSON values taken apart strictly: each refusal is a ValueError with a sentence. By hand, and not by pydantic as the
figures of `signal/` are: the same readers check bundles from elsewhere, whose reader is a person and shall be told in words.
"""

from collections.abc import Mapping
from math import isfinite


def mapping_of(data: object, what: str, keys: set[str]) -> Mapping[str, object]:
    """A JSON object with exactly these keys."""
    if not isinstance(data, Mapping) or set(data) != keys:
        raise ValueError(f"{what} is written with exactly these keys: {', '.join(sorted(keys))}.")
    return data


def list_of(data: object, what: str) -> list[object]:
    """A JSON array."""
    if not isinstance(data, list):
        raise ValueError(f"{what} must be a list.")
    return data


def text_of(data: object, what: str) -> str:
    """A JSON string."""
    if not isinstance(data, str):
        raise ValueError(f"{what} must be text.")
    return data


def number_of(data: object, what: str) -> float:
    """A finite JSON number."""
    if isinstance(data, bool) or not isinstance(data, int | float) or not isfinite(data):
        raise ValueError(f"{what} must be a number.")
    return float(data)


def number_or_null(data: object, what: str) -> float | None:
    """A finite JSON number, or null for what is not known."""
    return None if data is None else number_of(data, what)

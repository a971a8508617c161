"""Hypothesis strategies made from the types themselves: whatever a case file's schema accepts."""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st
from msgspec import inspect

LEVELS = st.integers(-4, 26).map(lambda step: float(step * 5)) | st.just("nr")


def levels(*frequencies: str) -> st.SearchStrategy[dict[str, Any]]:
    """Return hearing tests that measured exactly these frequencies."""
    return st.fixed_dictionaries(dict.fromkeys(frequencies, LEVELS))


def _of_struct(node: inspect.StructType) -> st.SearchStrategy[dict[str, Any]]:
    fields = {f.encode_name: (f.required, accepted(f.type)) for f in node.fields}
    return st.fixed_dictionaries(
        {name: made for name, (required, made) in fields.items() if required},
        optional={name: made for name, (required, made) in fields.items() if not required},
    )


def _of_text(node: inspect.StrType) -> st.SearchStrategy[str]:
    if node.pattern is None:
        return st.text(max_size=5)
    days = st.dates()
    return days.map(str) | days.map(lambda day: f"{day:%Y}-{day:%m}") | st.from_regex(node.pattern)


def accepted(node: inspect.Type) -> st.SearchStrategy[Any]:
    """Return plain data (dicts, lists, words) that a type accepts."""
    match node:
        case inspect.StructType():
            return _of_struct(node)
        case inspect.UnionType():
            leaves = (n for n in node.types if not isinstance(n, inspect.CustomType))
            return st.one_of(*(accepted(leaf) for leaf in leaves))
        case inspect.Metadata():
            return accepted(node.type)
        case inspect.LiteralType():
            return st.sampled_from(sorted(node.values, key=str))
        case inspect.DictType():
            keys, values = accepted(node.key_type), accepted(node.value_type)
            return st.dictionaries(keys, values, min_size=node.min_length or 0, max_size=6)
        case inspect.VarTupleType():
            return st.lists(accepted(node.item_type), max_size=3)
        case inspect.IntType():
            return st.integers(node.ge, node.le)
        case inspect.FloatType():
            return st.floats(node.ge, node.le, allow_nan=False)
        case inspect.StrType():
            return _of_text(node)
        case inspect.DateType():
            return st.dates().map(str)
        case inspect.BoolType():
            return st.booleans()
        case inspect.NoneType():
            return st.none()
    raise NotImplementedError(node)

"""Why a decoder refused a case file, in words: the path, what is wrong, what would be right.

Only the slow path comes here; the types say what would have been right.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from difflib import get_close_matches
from typing import Any

import msgspec
from msgspec import inspect

from recall.care.measured import Levels
from recall.errors import InputError

_AT = re.compile(r"^(?P<what>.*) - at (?P<key>`key` in )?`(?P<path>\$[^`]*)`$", re.DOTALL)
_UNKNOWN = re.compile(r"^Object contains unknown field `(?P<field>.*)`$", re.DOTALL)
_MISSING = re.compile(r"^Object missing required field `(?P<field>.*)`$")
_VALUE = re.compile(r"^Invalid enum value (?P<value>.*)$", re.DOTALL)
_STEP = re.compile(r"\[[^]]*\]|[^.\[\]]+")
_LONGEST = 40
_DAY = "Write a day as YYYY-MM-DD"
_OR_MONTH = ", or a month as YYYY-MM"
_PLAIN = (
    (r"\bint\b", "a whole number"),
    (r"\bfloat\b", "a number"),
    (r"\bstr\b", "text"),
    (r"\bbool\b", "true or false"),
    (r"\barray\b", "a list"),
    (r"\bobject\b(?! keys)", "an object in braces"),
    (r" <= (\d+)(\.0)?", r" of at most \1"),
    (r" >= (-?\d+)(\.0)?", r" of at least \1"),
)
"""The decoder's names of types, and plain ones."""
_NOT_JSON = "Check for a missing comma, quote or bracket."


def _words(nodes: list[Any]) -> list[str]:
    """Return the words that the types of a place allow."""
    values = (v for node in nodes if isinstance(node, inspect.LiteralType) for v in node.values)
    words = [v if isinstance(v, str) else str(v).lower() for v in values]
    return sorted(words, key=int) if all(word.isdecimal() for word in words) else words


def _fields(nodes: list[Any]) -> list[str]:
    structs = (node for node in nodes if isinstance(node, inspect.StructType))
    return [field.encode_name for node in structs for field in node.fields]


def _flat(node: Any) -> Iterator[Any]:
    """Yield the types that a type stands for: unions and notes taken apart."""
    if isinstance(node, inspect.UnionType):
        for each in node.types:
            yield from _flat(each)
    elif isinstance(node, inspect.Metadata):
        yield from _flat(node.type)
    else:
        yield node


def _below(node: Any, step: str) -> Iterator[Any]:
    if isinstance(node, inspect.StructType):
        yield from (field.type for field in node.fields if field.encode_name == step)
    elif isinstance(node, inspect.DictType):
        yield node.value_type
    elif isinstance(node, inspect.VarTupleType | inspect.ListType):
        yield node.item_type


def _nodes_at(kind: Any, path: str, *, key: bool) -> list[Any]:
    """Return the types that a path of `kind` may hold."""
    nodes = list(_flat(inspect.type_info(kind)))
    for step in _STEP.findall(path.removeprefix("$")):
        nodes = [leaf for node in nodes for below in _below(node, step) for leaf in _flat(below)]
    if key:
        dicts = (node for node in nodes if isinstance(node, inspect.DictType))
        nodes = [leaf for node in dicts for leaf in _flat(node.key_type)]
    return nodes


def _short(text: str) -> str:
    text = "".join(c if c.isprintable() else " " for c in text)
    return text if len(text) <= _LONGEST else text[:_LONGEST] + "…"


def _instead(given: str, allowed: list[str]) -> str:
    if given.isdigit():
        return f"Write one of: {', '.join(allowed)}."
    near = get_close_matches(given[:_LONGEST].lower(), allowed, n=1)
    if near:
        return f"Did you mean {near[0]}?"
    return f"Write one of: {', '.join(allowed)}." if allowed else ""


def _joined(place: str, field: str) -> str:
    return f"{place}.{field}" if place else field


def _said(what: str, place: str, nodes: list[Any]) -> tuple[str, str, str]:
    """Return the path, what is wrong and what would be right."""
    if unknown := _UNKNOWN.match(what):
        field = _short(unknown["field"])
        return _joined(place, field), "no such field", _instead(field, _fields(nodes))
    if missing := _MISSING.match(what):
        return _joined(place, missing["field"]), "missing", "Add it."
    return _of_value(what, place, nodes)


def _of_value(what: str, place: str, nodes: list[Any]) -> tuple[str, str, str]:
    """Return the same for a field that exists and whose value is not right."""
    words = _words(nodes)
    if value := _VALUE.match(what):
        given = value["value"].strip("'\"")
        return place, f"{_short(given)} is not a value it can have", _instead(given, words)
    if "length >= 1" in what:
        return place, "empty", "Leave it out where none was done."
    if "date" in what or "matching regex" in what:
        month = any(isinstance(node, inspect.StrType) for node in nodes)
        return place, "no date", _DAY + (_OR_MONTH if month else "") + "."
    if what.endswith("got `null`"):
        return place, "null says nothing", "Leave it out where it was not recorded."
    only_words = all(isinstance(node, inspect.LiteralType | inspect.NoneType) for node in nodes)
    hint = _instead("", words) if only_words and what.startswith("Expected") else ""
    return place, _plain(what), hint


def _plain(what: str) -> str:
    """Return the decoder's own words as the rest of a sentence, without its names of types."""
    what = (
        what.replace("`", "")
        .replace(" | null", "")
        .replace(" | ", " or ")
        .removeprefix("JSON is malformed: ")
        .strip()
    )
    for word, plain in _PLAIN:
        what = re.sub(word, plain, what)
    return what[:1].lower() + what[1:]


def _with_key(path: str, data: bytes) -> str:
    """Return a path into a hearing test with the frequency that was refused.

    The decoder leaves it open as `[...]`.
    """
    start = path.removesuffix("[...]")
    at: Any = json.loads(data)
    for step in _STEP.findall(start.removeprefix("$")):
        at = at[int(step[1:-1])] if step.startswith("[") else at[step]
    levels: dict[str, Any] = at
    for key, value in levels.items():
        try:
            msgspec.convert({key: value}, Levels)
        except msgspec.ValidationError:
            return f"{start}.{key}"
    return path


def refusal(error: Exception, kind: Any, data: bytes) -> InputError:
    """Return what to tell whoever wrote a case file (or a part, of type `kind`)."""
    if isinstance(error, UnicodeDecodeError) or "UTF-8" in str(error):  # newer msgspec: words only
        return InputError("The case file is not UTF-8 text.", hint="Save it as UTF-8.")
    if not isinstance(error, msgspec.ValidationError):
        return InputError(f"The case file is not JSON: {_plain(str(error))}.", hint=_NOT_JSON)
    at = _AT.match(str(error))
    what, path, key = (at["what"], at["path"], bool(at["key"])) if at else (str(error), "$", False)
    nodes = _nodes_at(kind, path, key=key)
    if path.endswith("[...]"):
        path = _with_key(path, data)
    place, wrong, right = _said(what, path.removeprefix("$").removeprefix("."), nodes)
    return InputError(f"{place or 'The case file'}: {wrong}.", hint=right)

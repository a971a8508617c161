"""A list that a statement is asked with, as one value which the database itself takes apart.

As SQLite does it (SQLite: "JSON Functions and Operators", `json_each`); how a server does stands
with its engine.
"""

from typing import Any

from sqlalchemy.sql.functions import FunctionElement


class Numbers(FunctionElement[Any]):
    """The numbers of a JSON list, as rows."""

    __visit_name__ = "function"
    name = "json_each"
    inherit_cache = True


class Refs(FunctionElement[Any]):
    """The texts of a JSON list, as rows."""

    __visit_name__ = "function"
    name = "json_each"
    inherit_cache = True

"""The address of a database server, where the configuration names one as the database.

The register then has no file. A path stands for it all the same, by the name of the database in the
folder of the configuration: what belongs to the register is kept beside it.
"""

from __future__ import annotations

import re
from typing import Any

from recall.errors import ConfigError

_ADDRESS = re.compile(r"postgresql(\+psycopg)?://(?P<rest>[^/]*/(?P<name>[^/?]+)(\?.*)?)$")


def part_address(files: Any, where: str) -> None:
    """Put the address that `files` gives as its database beside the path that stands for it.

    Raises:
        ConfigError: it is an address, and none of a PostgreSQL database.
    """
    given = files.get("database") if isinstance(files, dict) else None
    if not isinstance(given, str) or "://" not in given:
        return
    found = _ADDRESS.match(given)
    if found is None:
        raise ConfigError(
            f"{where}: `database` is no address of a PostgreSQL database.",
            hint='It is a file, or as in "postgresql+psycopg://recall@server.example/recall".',
        )
    files["server"] = f"postgresql+psycopg://{found['rest']}"
    files["database"] = f"{re.sub(r'[^A-Za-z0-9_-]', '_', found['name'])}.server"

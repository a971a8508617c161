"""The examples written in the docstrings of this room hold."""

from __future__ import annotations

import doctest
import importlib
import pkgutil

import pytest

import recall.care

MODULES = sorted(module.name for module in pkgutil.iter_modules(recall.care.__path__))


@pytest.mark.parametrize("name", MODULES)
def test_examples_hold(name):
    result = doctest.testmod(importlib.import_module(f"recall.care.{name}"))
    assert result.failed == 0

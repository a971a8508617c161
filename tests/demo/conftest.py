"""The demo's scripts as modules, working in a folder of the test instead of demo/made/."""

import importlib
import sys
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).resolve().parents[2]
SCRIPTS = ("running", "environment", "installing", "start", "making")


@pytest.fixture
def scripts(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Let the demo's scripts be imported, and forget them afterwards."""
    monkeypatch.syspath_prepend(str(ROOT / "demo"))
    monkeypatch.setattr(sys, "dont_write_bytecode", True)
    yield
    for name in [n for n in sys.modules if n.partition(".")[0] in SCRIPTS]:
        del sys.modules[name]


@pytest.fixture
def setting(scripts: None, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> ModuleType:
    """Return the module that makes environments, with a made/ folder of its own."""
    module = importlib.import_module("environment")
    monkeypatch.setattr(module, "MADE", tmp_path / "made é")
    monkeypatch.setattr(module, "TEMPORARY", tmp_path / "made é" / "temporary" / "1")
    module.lay_out()
    return module

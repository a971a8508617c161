"""The source archive and the wheel, built from the checkout's files by its own builder."""

import shutil
import subprocess
import sys
import tarfile
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
FILES = ("*.md", "*.toml", "requirements*.txt", "LICENSE", ".gitignore")
FOLDERS = (".ci", "recall", "tui", "migrations", "demo", "tests")
MADE = shutil.ignore_patterns("__pycache__", "made", "*.py[co]")
HOOK = "import sys; sys.path.insert(0, '.ci'); import building; building.build_{}(sys.argv[1])"
"""What an installer runs, with the builder's own module."""


def quietly(*command: object, cwd: Path, env: dict[str, str] | None = None) -> str:
    """Run a command that must go well, and return what it printed."""
    words = [str(word) for word in command]
    ran = subprocess.run(words, cwd=cwd, env=env, capture_output=True, text=True)
    assert ran.returncode == 0, f"{' '.join(words)}\n{ran.stdout}\n{ran.stderr}"
    return ran.stdout


def built(what: str, source: Path, out: Path) -> Path:
    """Return the one file that a hook of the builder makes of a source folder."""
    quietly(sys.executable, "-B", "-c", HOOK.format(what), out, cwd=source)
    (made,) = out.iterdir()
    return made


@pytest.fixture(scope="session")
def source(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a copy of the checkout, so that nothing an earlier build left gets in."""
    source = tmp_path_factory.mktemp("the source")
    for pattern in FILES:
        for file in ROOT.glob(pattern):
            shutil.copy(file, source)
    for name in FOLDERS:
        shutil.copytree(ROOT / name, source / name, ignore=MADE)
    return source


@pytest.fixture(scope="session")
def files(source: Path) -> frozenset[str]:
    """Return the checkout's files, before anything is built there."""
    return frozenset(
        file.relative_to(source).as_posix() for file in source.rglob("*") if file.is_file()
    )


@pytest.fixture(scope="session")
def archive(source: Path, files: frozenset[str], tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the source archive, unpacked."""
    packed = built("sdist", source, tmp_path_factory.mktemp("archive"))
    out = tmp_path_factory.mktemp("unpacked")
    with tarfile.open(packed) as opened:
        # Pythons before 3.11.4 have no filter.
        opened.extraction_filter = getattr(tarfile, "data_filter", lambda member, path: member)
        opened.extractall(out)
    (top,) = out.iterdir()
    return top


@pytest.fixture(scope="session")
def wheel(source: Path, files: frozenset[str], tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the wheel."""
    return built("wheel", source, tmp_path_factory.mktemp("wheel"))


def names(wheel: Path) -> set[str]:
    """Return the names of the files in a wheel."""
    with zipfile.ZipFile(wheel) as opened:
        return set(opened.namelist())


@pytest.fixture(scope="session")
def held(wheel: Path) -> set[str]:
    """Return the names of the files in the wheel."""
    return names(wheel)

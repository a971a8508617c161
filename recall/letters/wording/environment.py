"""The sandbox in which wording is filled in."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any, NamedTuple

from jinja2 import (
    Environment,
    FileSystemLoader,
    StrictUndefined,
    Template,
    TemplateError,
    TemplateNotFound,
    TemplateSyntaxError,
    UndefinedError,
)
from jinja2.exceptions import SecurityError
from jinja2.sandbox import ImmutableSandboxedEnvironment

from recall.errors import LetterError
from recall.letters.composed import Block
from recall.letters.wording.blocks import mark, parse
from recall.letters.wording.filters import filters

SHIPPED = Path(__file__).parent
FALLBACK = "en"
_TAG = re.compile(r"[a-z]{2,3}(-[A-Za-z0-9]{2,8})*")


class Worded(NamedTuple):
    """A rendered wording and the language that it turned out to be in."""

    blocks: tuple[Block, ...]
    language: str


class _Files(FileSystemLoader):
    """Reads wording and makes its marks private before anything is filled in."""

    def get_source(
        self, environment: Environment, template: str
    ) -> tuple[str, str, Callable[[], bool]]:
        """Return a file's text, marked."""
        source, name, fresh = super().get_source(environment, template)
        return mark(source), name, fresh


class Wording:
    """The wording of one practice: its own files first, then the shipped ones."""

    def __init__(self, own: Path | None = None, fallback: str = FALLBACK) -> None:
        """Remember the practice's own folder, if any, and the language to fall back to."""
        self.own = own
        self.fallback = fallback
        self._made: dict[str, Environment] = {}
        self._read: dict[tuple[str, str], tuple[Template, str]] = {}

    def render(self, name: str, language: str, words: Mapping[str, Any]) -> Worded:
        """Return a wording filled in, in a language or, where it has none, in the fallback."""
        template, used = self._find(name, language)
        with _explained(name, used):
            return Worded(parse(template.render(words)), used)

    def has(self, name: str, language: str) -> bool:
        """Say whether a wording exists in a language itself."""
        return any((root / language / f"{name}.txt").is_file() for root in self.roots())

    def roots(self) -> tuple[Path, ...]:
        """Return the folders that hold languages, the practice's own first."""
        return (self.own, SHIPPED) if self.own else (SHIPPED,)

    def _find(self, name: str, language: str) -> tuple[Template, str]:
        key = (name, language)
        if key not in self._read:
            with _explained(name, language):
                self._read[key] = self._load(name, language)
        return self._read[key]

    def _load(self, name: str, language: str) -> tuple[Template, str]:
        known = [tag for tag in (language, language.partition("-")[0]) if _TAG.fullmatch(tag)]
        for used in dict.fromkeys([*known, self.fallback, FALLBACK]):
            if self.has(name, used):
                return self._environment(used).get_template(f"{name}.txt"), used
        raise TemplateNotFound(name)

    def _environment(self, language: str) -> Environment:
        """Return the sandbox of a language; a part it lacks is taken from the fallback."""
        if language not in self._made:
            folders = [r / tag for tag in (language, self.fallback, FALLBACK) for r in self.roots()]
            made = ImmutableSandboxedEnvironment(
                loader=_Files(folders, encoding="utf-8-sig"),
                undefined=StrictUndefined,
                autoescape=False,
                trim_blocks=True,
                lstrip_blocks=True,
                auto_reload=False,
                keep_trailing_newline=True,
            )
            made.filters.update(filters(language))
            self._made[language] = made
        return self._made[language]


def languages(wording: Wording) -> tuple[str, ...]:
    """Return the languages that any wording is written in."""
    found = {
        path.parent.name
        for root in wording.roots()
        for path in root.glob("*/*.txt")
        if _TAG.fullmatch(path.parent.name)
    }
    return tuple(sorted(found))


@contextmanager
def _explained(name: str, language: str) -> Iterator[None]:
    """Turn what can go wrong in a file into one sentence that names the file."""
    where = f"wording {language}/{name}.txt"
    try:
        yield
    except TemplateNotFound as error:
        raise LetterError(
            f"There is no {where} (missing: {error}).",
            hint="Add the file to the practice's own wording folder, or correct its name.",
        ) from error
    except TemplateSyntaxError as error:
        raise LetterError(
            f"The {where} cannot be read: line {error.lineno} of {error.name or name}: "
            f"{error.message}",
            hint="Correct that line, then run the letters check.",
        ) from error
    except UndefinedError as error:
        raise LetterError(
            f"The {where} uses a word that letters do not have: {error.message}.",
            hint="Use one of the words listed for letters, then run the letters check.",
        ) from error
    except SecurityError as error:
        raise LetterError(
            f"The {where} tries something that wording may not do: {error.message}.",
            hint="Keep to words, filters, if and for.",
        ) from error
    except UnicodeDecodeError as error:
        raise LetterError(
            f"The {where} is not saved as UTF-8.", hint="Save the file as UTF-8 text."
        ) from error
    except LetterError:
        raise
    # Wording is written by the practice: whatever else it provokes is theirs to correct.
    except (TemplateError, ArithmeticError, LookupError, TypeError, ValueError, OSError,
            AttributeError, RecursionError) as error:  # fmt: skip
        raise LetterError(
            f"The {where} cannot be filled in: {error}.",
            hint="Correct the file, then run the letters check.",
        ) from error

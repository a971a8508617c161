"""Wording in files, one per kind and language, and what turns it into blocks of text.

A practice's own file of the same language and name comes first; a language or a kind that is
missing falls back. Files are plain text: a blank line ends a paragraph, and a line that begins
with one of the marks of `blocks.py` makes a heading, a list, facts or lines kept apart.
"""

from recall.letters.wording.blocks import parse
from recall.letters.wording.environment import Worded, Wording, languages

__all__ = ["Worded", "Wording", "languages", "parse"]

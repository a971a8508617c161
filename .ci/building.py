"""Build as setuptools does, but take the list of the source archive's files from beside this.

At the top of the checkout there is no place for one.
"""

from pathlib import Path

from setuptools.build_meta import *  # noqa: F403 — all the hooks of a builder
from setuptools.command.egg_info import manifest_maker

manifest_maker.template = str(Path(__file__).with_name("archive.in"))

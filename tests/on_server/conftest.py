"""Tests of a server: collected where the registers of the tests lie on one."""

from tests import registers

collect_ignore_glob = [] if registers.ON_SERVER else ["test_*.py"]

"""Print how the rule cases cover the protocol, after the tests."""

from __future__ import annotations

from typing import Any


def pytest_terminal_summary(terminalreporter: Any) -> None:
    """Write the coverage table: each rule, the cases that fire it, how it is known, its source."""
    ran = [r.nodeid for reports in terminalreporter.stats.values() for r in reports
           if hasattr(r, "nodeid")]  # fmt: skip
    if not any("protocol/test_coverage.py" in nodeid for nodeid in ran):
        return
    from tests.protocol.test_coverage import coverage

    rows = list(coverage())
    terminalreporter.section("rules and the cases that fire them")
    for rule, count in rows:
        line = f"{count:4}  {rule.id:34} {rule.known_by:6} {rule.source}"
        terminalreporter.write_line(line[:158])
    missing = sum(count == 0 for _, count in rows)
    terminalreporter.write_line(f"{len(rows)} rules, {missing} without a case.")

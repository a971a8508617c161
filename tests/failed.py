"""Which tests of a stage failed, named again where a reader ends. Standard library only."""

import xml.etree.ElementTree as Xml
from pathlib import Path

MOST = 40
"""How many are named; the whole report stands above, where each failed."""
NO_REPORT = "  No report was kept of what failed; it stands above."


def asked(report: Path) -> tuple[str, ...]:
    """Return what makes the test runner keep a report in the open form, at a path.

    >>> asked(Path("made/tests.xml"))
    ('--junitxml=made/tests.xml',)
    """
    report.unlink(missing_ok=True)
    return (f"--junitxml={report}",)


def lines(report: Path) -> list[str]:
    """Return a line for each test of the report that failed: where, and the first line of why.

    A report that is not there, or was cut off, gives one line that says so.
    """
    try:
        cases = Xml.parse(report).iter("testcase")
    except (OSError, Xml.ParseError):
        return [NO_REPORT]
    told = [
        f"  {case.get('classname', '').replace('.', '/')}::{case.get('name')}  {first_line(why)}"
        for case in cases
        for why in case
        if why.tag in ("failure", "error")
    ]
    return told[:MOST] + ([f"  and {len(told) - MOST} more"] if len(told) > MOST else [])


def first_line(why: Xml.Element) -> str:
    """Return the first line of why a test failed, at most 160 characters.

    >>> first_line(Xml.fromstring('<failure message="assert 1 == 2&#10;more"/>'))
    'assert 1 == 2'
    """
    return (why.get("message") or "").partition("\n")[0][:160]

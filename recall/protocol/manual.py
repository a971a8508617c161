"""How a protocol file is written, for a clinical lead: a page made from the types themselves."""

from __future__ import annotations

from collections.abc import Iterator
from typing import get_args

from recall.care.case import URGENCIES, Category, Do, RiskWord, To, Track
from recall.protocol.anchors import ANCHORS
from recall.protocol.context import ANY_OF, COURSE, PERSON_RANGES
from recall.protocol.rules import KnownBy
from recall.protocol.words import (
    FLAGS,
    FOUND_FLAGS,
    MEASURED,
    NAMES,
    ORDERS,
    REPORTS,
    SIGNS,
    TESTED_FLAGS,
    TRACE_FLAGS,
)

_HEAD = """# How a protocol is written

A protocol is one text file in TOML. Each rule is a block that starts with `[[rule]]`. A rule
says when it applies, what it asks, how pressing that is, why, and where that comes from.

- All lines of a condition must hold. A list in one line means any of them. "Or" across
  lines is another rule.
- Nothing can be conditioned on a normal or unrecorded finding. Write the rule for the worse
  finding: where several rules match, the earliest last day wins and the most pressing
  urgency holds, so a rule can only make a plan stricter.
- `unless` holds a rule back where something is recorded. It is the only way in which a
  recorded finding can loosen a plan, so it needs its reason in `unless_because`.
- To change a rule, add it again with the next `version` and the day it starts (`since`), and
  give the old one that day as `until`. Visits before that day keep the old rule. A register
  that adopts the file later counts from the day of adoption instead.
- A rule without `says` or `source` does not load.

```toml
[[rule]]
id = "tensa-two-child"                       # stable, in trade words
version = 1
since = 2026-01-01
category = "retraction_watch"
track = "retraction"
when.ear.tensa_grade = "2 or worse"
when.person.age = "under 16"
ask.kind = "recheck"
ask.do = ["otoscopy"]
ask.earliest = "5 months"
ask.target = "6 months"
ask.latest = "7 months"
urgency = "medium"
says = "What the practitioner reads, with the clinical detail."
says_aloud = "What reception says on the phone, without it."
source = "the publication, or: common practice, no source found"
known_by = "CP"
```

After a change: `recall protocol check`, `recall protocol compare OLD NEW`,
`recall protocol sign --by NAME`, `recall protocol adopt`.
"""


def manual() -> str:
    """Return the page as Markdown."""
    return "\n".join((_HEAD, *_asks(), *_lists(), *_words())) + "\n"


def _asks() -> Iterator[str]:
    yield "## What a rule can ask\n"
    yield '- `kind = "recheck"`: a look in a window, counted `from` an anchor (the visit where'
    yield "  left out). `never` is the window where the anchor has not happened. `needs` says"
    yield "  what must have been looked at to answer it."
    yield '- `kind = "refer"`: `to` a service; `sent`, `accepted`, `seen`, `result` where the'
    yield "  urgency's own stages do not serve."
    yield '- `kind = "advise"`: tell the person; no date. `alone = true`: only where nothing'
    yield "  else of its track is open for the ear, and nothing urgent. `in_emergency = true`: only"
    yield "  beside an emergency for which that ear is seen into today."
    yield ""
    yield 'Lengths of time: `"10 days"`, `"6 weeks"`, `"3 months"`, `"1 working day"`.'
    yield 'Ranges: `"under 12 weeks"`, `"12 weeks or more"`, `"4 to 90 days"`,'
    yield '`"over 30 days"`, `"2 or more"`, each also with ` or never`.'
    yield ""
    yield f"Anchors: {_code(ANCHORS)}.\n"


def _lists() -> Iterator[str]:
    yield "## Lists\n"
    for name, kind in (
        ("Tracks", Track),
        ("Categories", Category),
        ("Referred to", To),
        ("To do at a look", Do),
        ("Known by", KnownBy),
    ):
        yield f"- {name}: {_code(get_args(kind))}."
    yield f"- Urgencies, most pressing first: {_code(URGENCIES)}.\n"


def _words() -> Iterator[str]:
    yield "## Words a condition may use\n"
    yield "`when.ear.…` is the ear itself, `when.other.…` the other ear at the same visit.\n"
    yield "| word | kind | values |"
    yield "|---|---|---|"
    for word, order in ORDERS.items():
        yield f"| `{word}` | scale | {', '.join(order[1:])}: `or worse` |"
    for word in MEASURED:
        yield f'| `{word}` | scale | dB: `"25 dB or worse"` |'
    for word, names in NAMES.items():
        yield f"| `{word}` | names | {', '.join(names)} |"
    yield from _flags()
    yield f"| `person.risk` | flag | any of {', '.join(get_args(RiskWord))} |"
    yield f"| `report.said`, `report.also` | flag | any of {', '.join(REPORTS)} |"
    yield "| `report.lately` | flag | the same, told without a day or begun in the past 4 weeks |"
    yield "| `report.WORD_for`, `_for_at_least`, `_onset` | range | time since; days to come on |"
    for word, several in ANY_OF.items():
        yield f"| `report.{word}_for` | range | time since any of {', '.join(several)} began |"
    for word, says in PERSON_RANGES.items():
        yield f"| `person.{word}` | range | {says} |"
    for word, context in COURSE.items():
        yield f"| `course.{word}` | range | {context.says} |"


def _flags() -> Iterator[str]:
    for word in FLAGS:
        yield f"| `{word}` | flag | `true` |"
    for word, several in SIGNS.items():
        said = ", ".join(f"{f} {str(v).lower()}" for f, v in several)
        yield f"| `{word}` | flag | `true`: {'any of ' if len(several) > 1 else ''}{said} |"
    for word, pattern in TRACE_FLAGS.items():
        yield f"| `{word}` | flag | `true`: a trace read as {pattern.replace('_', ' ')} |"
    for word, says in (TESTED_FLAGS | FOUND_FLAGS).items():
        yield f"| `{word}` | flag | `true`: {says} |"


def _code(words: object) -> str:
    return ", ".join(f"`{w}`" for w in words)  # type: ignore[attr-defined]

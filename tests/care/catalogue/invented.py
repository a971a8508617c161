"""A finding that no practice records: its entry, its rule, its cases; nothing else is written.

`test_an_invented_finding.py` puts them into a copy of the program and follows it there.
"""

from __future__ import annotations

import shutil
from pathlib import Path

ROOT = Path(__file__).parents[3]
ENTRY = """\
    drum_colour: Annotated[
        Literal["pearly", "amber", "blue"] | None,
        scale(
            means="The colour of the drum, as it was seen.",
            label="Drum colour",
            look="fluid",
            says=("pearly", "like amber", "blue"),
            letter="colour of the drum",
            normal="pearly",
            of_drum=EVERY,
            clear_in="drum",
            never=(Never(("blue",), "effusion", ("absent",), "Write what lies behind the drum."),),
            stays=Stays("a coloured drum", ("amber", "blue")),
            noted=(Noted(r"\\bamber\\b", "amber"),),
            caution=Caution("coloured drum", no_water=False),
        ),
    ] = None
"""
RULE = """
[[rule]]
id = "drum-colour-look"
version = 1
since = 2020-01-01
category = "fluid_recheck"
track = "fluid"
when.ear.drum_colour = "amber or worse"
ask = { kind = "recheck", do = ["otoscopy"], earliest = "4 weeks", target = "6 weeks", \
latest = "8 weeks" }
urgency = "low"
says = "A drum with a colour of its own: looked at again."
says_aloud = "We would like to look at the ear again."
source = "invented: common practice, no source found"
known_by = "CP"
"""
CASES = """
[[case]]
name = "an amber drum"
source = "invented"
given.born = 1990-05-10
given.visits = [{ on = 2026-09-01, right = { drum_seen = "full", drum_colour = "amber" } }]
expect.fires = ["drum-colour-look"]
expect.dues = [{ ear = "right", rule = "drum-colour-look", urgency = "low", \
window = ["2026-09-29", "2026-10-13", "2026-10-27"] }]
expect.asks.drum-colour-look = { track = "fluid", category = "fluid_recheck", \
do = ["otoscopy"], known_by = "CP" }

[[case]]
name = "a pearly drum"
source = "invented"
given.born = 1990-05-10
given.visits = [{ on = 2026-09-01, right = { drum_seen = "full", drum_colour = "pearly" } }]
expect.nothing = true
expect.not = ["drum-colour-look"]
"""
_NOT_NEEDED = shutil.ignore_patterns("__pycache__", "captures", "golden", "*.svg", "*.otf")


def copy_with_the_finding(folder: Path) -> Path:
    """Copy the program and its tests, with the finding added as a contributor would add it."""
    for name in ("recall", "tui", "tests"):
        shutil.copytree(ROOT / name, folder / name, ignore=_NOT_NEEDED)
    shutil.copy(ROOT / "pyproject.toml", folder)
    entries = folder / "recall/care/findings/drum.py"
    _append(entries, ENTRY)
    imports = entries.read_text(encoding="utf-8").replace(
        "EVERY, Finding", "EVERY, Caution, Finding"
    )
    entries.write_text(imports, encoding="utf-8")
    _append(folder / "recall/protocol/default.toml", RULE)
    (folder / "tests/cases/invented.toml").write_text(CASES, encoding="utf-8")
    return folder


def _append(path: Path, text: str) -> None:
    with path.open("a", encoding="utf-8") as file:
        file.write(text)

"""Letters per second, as a ratio to the page library alone on the same pages.

Floor: a fresh process that is given the composed letters as finished JSON and compiles them, no
more. Ours: wording, cleaning, checking the fonts, fitting addresses, the same compile in its own
process, and the file written whole. Run by hand:

    python tests/benchmarks/letters.py [letters] [rounds]
"""

from __future__ import annotations

import json
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from recall.letters import sample
from recall.letters.compose import compose
from recall.letters.data import RECALL_KINDS, LetterData
from recall.letters.pages import make_pdf, order_for
from recall.letters.wording import Wording

FLOOR = """
import json, pathlib, sys, typst
order = json.loads(pathlib.Path(sys.argv[1]).read_bytes())
fonts = typst.Fonts(False, False, [order["fonts"]])
inputs = {"title": order["title"], "letters": json.dumps(order["letters"])}
typst.compile(order["layout"], sys.argv[2], root=order["root"], font_paths=fonts,
              sys_inputs=inputs, pdf_standards=["ua-1"], timestamp=0)
"""


def batch(count: int) -> list[LetterData]:
    """Return as many letters, of every kind to a person and for every awkward sample."""
    kinds, people = RECALL_KINDS, sample.AWKWARD
    return [
        sample.letter(kinds[n % len(kinds)], people[n % len(people)], number=f"L-{n:05}")
        for n in range(count)
    ]


def seconds(work: Callable[[], object]) -> float:
    """Return how long a piece of work took."""
    begun = time.perf_counter()
    work()
    return time.perf_counter() - begun


def ours(letters: list[LetterData], out: Path) -> None:
    """Make the batch as the program does, from what letters need to the written file."""
    wording = Wording()
    make_pdf([compose(letter, wording) for letter in letters], out)


def floor(order: Path, out: Path) -> None:
    """Compile finished JSON in a fresh process."""
    subprocess.run([sys.executable, "-c", FLOOR, str(order), str(out)], check=True)


def main(count: int = 500, rounds: int = 5) -> None:
    """Print the middle of several rounds, floor and ours in turn."""
    letters = batch(count)
    with tempfile.TemporaryDirectory() as folder:
        order, alone, made = (Path(folder) / n for n in ("order.json", "alone.pdf", "ours.pdf"))
        composed = [compose(letter, Wording()) for letter in letters]
        order.write_text(json.dumps(order_for(composed, "Letters")), encoding="utf-8")
        times = [
            (seconds(lambda: floor(order, alone)), seconds(lambda: ours(letters, made)))
            for _ in range(rounds)
        ]
    low, high = (statistics.median(column) for column in zip(*times, strict=True))
    print(f"{count} letters, middle of {rounds} rounds")
    print(f"page library alone  {low:6.2f} s  {count / low:6.0f} letters/s")
    print(f"ours                {high:6.2f} s  {count / high:6.0f} letters/s  {high / low:.2f}x")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:3]))

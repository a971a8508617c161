"""The colours: two sets of our own, and the terminal's own sixteen.

Every colour has a role. `PAIRS` says which roles are read upon which; a test works the contrast
of each pair out by WCAG 2.2. Colour comes third: every state has a word and a sign as well.
"""

from __future__ import annotations

from textual.theme import Theme

PAPER = {
    "paper": "#faf6ec",
    "panel": "#efe8d8",
    "ink": "#22303a",
    "quiet": "#566370",
    "lead": "#0f5c5c",
    "rule": "#7d8578",
    "band": "#1f4a4f",
    "band-ink": "#f5f1e6",
    "band-quiet": "#c9dcd8",
    "mark": "#c9e2dc",
    "mark-ink": "#10282b",
    "alarm": "#9c1f2e",
    "alarm-band": "#8d1b29",
    "alarm-ink": "#fff4f2",
    "warn": "#7a4a00",
    "warn-band": "#f3d9a4",
    "warn-ink": "#3a2500",
    "good": "#22602f",
    "key": "#7a3b12",
    "field": "#ffffff",
}
"""Ink on paper, for a bright room."""

DUSK = {
    "paper": "#18222a",
    "panel": "#202d36",
    "ink": "#e9e4d6",
    "quiet": "#a9b4b5",
    "lead": "#84d0c4",
    "rule": "#6f8288",
    "band": "#0e3a40",
    "band-ink": "#f2ede0",
    "band-quiet": "#aecbc8",
    "mark": "#2f5a5c",
    "mark-ink": "#f7f4ea",
    "alarm": "#ff9c94",
    "alarm-band": "#8d1b29",
    "alarm-ink": "#fff4f2",
    "warn": "#f0c069",
    "warn-band": "#5a4212",
    "warn-ink": "#fff1d3",
    "good": "#94d69a",
    "key": "#f2b48a",
    "field": "#0f171d",
}
"""Pale ink on slate, for a dim one."""

TERMINAL = {
    "paper": "ansi_default",
    "panel": "ansi_default",
    "ink": "ansi_default",
    "quiet": "ansi_default",
    "lead": "ansi_default",
    "rule": "ansi_default",
    "band": "ansi_black",
    "band-ink": "ansi_bright_white",
    "band-quiet": "ansi_bright_white",
    "mark": "ansi_blue",
    "mark-ink": "ansi_bright_white",
    "alarm": "ansi_red",
    "alarm-band": "ansi_red",
    "alarm-ink": "ansi_bright_white",
    "warn": "ansi_default",
    "warn-band": "ansi_yellow",
    "warn-ink": "ansi_black",
    "good": "ansi_default",
    "key": "ansi_default",
    "field": "ansi_default",
}
"""What the terminal itself shows; its owner chose how well it reads."""

PAIRS = (
    ("ink", "paper"),
    ("quiet", "paper"),
    ("lead", "paper"),
    ("alarm", "paper"),
    ("warn", "paper"),
    ("good", "paper"),
    ("key", "paper"),
    ("ink", "panel"),
    ("quiet", "panel"),
    ("lead", "panel"),
    ("alarm", "panel"),
    ("warn", "panel"),
    ("good", "panel"),
    ("key", "panel"),
    ("ink", "field"),
    ("quiet", "field"),
    ("band-ink", "band"),
    ("band-quiet", "band"),
    ("mark-ink", "mark"),
    ("alarm-ink", "alarm-band"),
    ("warn-ink", "warn-band"),
)
"""Which colour is read upon which: 4.5 to 1 at least (WCAG 2.2, 1.4.3)."""

EDGES = (("rule", "paper"), ("rule", "panel"), ("lead", "paper"), ("lead", "panel"))
"""Lines and frames that say where something is: 3 to 1 at least (WCAG 2.2, 1.4.11)."""


def roles(colours: dict[str, str]) -> dict[str, str]:
    """Return the colours under the names that the styles use."""
    return {f"desk-{name}": colour for name, colour in colours.items()}


def _theme(name: str, colours: dict[str, str], dark: bool) -> Theme:
    """Return a theme in which the library's own widgets take our colours, too."""
    ink, paper = colours["ink"], colours["paper"]
    return Theme(
        name=name,
        primary=colours["lead"],
        secondary=colours["band"],
        accent=colours["key"],
        warning=colours["warn"],
        error=colours["alarm"],
        success=colours["good"],
        foreground=ink,
        background=paper,
        surface=colours["field"],
        panel=colours["panel"],
        dark=dark,
        variables={
            **roles(colours),
            "text": ink,
            "text-muted": colours["quiet"],
            "text-disabled": colours["quiet"],
            "block-cursor-background": colours["mark"],
            "block-cursor-foreground": colours["mark-ink"],
            "block-cursor-blurred-background": colours["mark"],
            "block-cursor-blurred-foreground": colours["mark-ink"],
            "input-cursor-background": ink,
            "input-cursor-foreground": colours["field"],
            "input-selection-background": colours["mark"],
            "input-selection-foreground": colours["mark-ink"],
            "border": colours["lead"],
            "border-blurred": colours["rule"],
            "scrollbar": colours["rule"],
            "scrollbar-background": colours["panel"],
            "scrollbar-corner-color": colours["panel"],
        },
    )


THEMES = (_theme("paper", PAPER, dark=False), _theme("dusk", DUSK, dark=True))
NAMES = ("paper", "dusk", "ansi-light", "ansi-dark")
"""All sets of colours in the order in which F10 takes them."""

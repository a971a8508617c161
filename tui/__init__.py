"""The desk as a terminal program.

How a screen joins it: add an `Area` (or push the screen from another) and its rows to
`tui.commands`; derive it from `tui.screens.base.DeskScreen` with `WHERE`, `HELP`, `body` and
`refill`; ask the register only through `read` and `write` with a function of `recall.desk`, and
draw in what they call back. Sheets come from `tui.dialogs`: `Form` stores from the sheet itself,
so that nothing typed is lost. Long lists are a `RowList`. Whatever people typed goes through
`tui.words.text`. Colours are roles from `tui.styles.themes`, never values.
"""

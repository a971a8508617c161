"""The palette: every command that can be given here and now, each with its key."""

from __future__ import annotations

from functools import partial

from textual.command import DiscoveryHit, Hit, Hits, Provider
from textual.content import Content

from tui.commands.kinds import EVERYWHERE, Command
from tui.commands.table import TITLES, commands_of


class DeskCommands(Provider):
    """The commands of the screen one is on, and those that hold everywhere."""

    def _here(self) -> tuple[Command, ...]:
        where = getattr(self.screen, "WHERE", "")
        return (*commands_of(where), *commands_of(EVERYWHERE))

    @staticmethod
    def _label(command: Command) -> str:
        return f"{TITLES[command.where]}: {command.words}  [{command.all_keys}]"

    async def discover(self) -> Hits:
        """Give all commands before anything is typed."""
        for command in self._here():
            yield DiscoveryHit(
                Content(self._label(command)),
                partial(self._run, command),
                self._label(command),
                command.says,
            )

    async def search(self, query: str) -> Hits:
        """Give the commands that fit what is typed, by label or by what they do."""
        matcher = self.matcher(query)
        for command in self._here():
            label = self._label(command)
            score = max(matcher.match(label), matcher.match(command.says) * 0.8)
            if score > 0:
                yield Hit(score, Content(label), partial(self._run, command), label, command.says)

    async def _run(self, command: Command) -> None:
        name = command.action
        await self.app.run_action(name, default_namespace=self.screen)

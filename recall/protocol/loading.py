"""Load a protocol file: decode, check each rule, compile. One without its source does not load."""

from __future__ import annotations

import copy
import hashlib
import tomllib
from collections.abc import Iterable, Sequence
from datetime import date
from functools import lru_cache
from importlib.resources import files
from itertools import pairwise
from pathlib import Path

import msgspec

from recall.care.case import Category, Urgency
from recall.errors import ProtocolError
from recall.protocol.anchors import ANCHORS
from recall.protocol.capabilities import EVERYTHING, Capabilities
from recall.protocol.contact import ContactProtocol
from recall.protocol.matching import Matcher
from recall.protocol.rules import (
    Advise,
    DefaultWindow,
    ProtocolFile,
    Recheck,
    Refer,
    Rule,
    StageText,
    WindowText,
)
from recall.protocol.signing import beside, sign_off_of
from recall.protocol.spans import Range, Span, read_range, span
from recall.reading import content_at

DEFAULT = "default.toml"
_READ = 8
"""How many contents are kept read and compiled: the file, what was adopted, and what is compared.

Reading one takes most of what opening a desk does, and the same bytes always say the same.
"""


class Window(msgspec.Struct, frozen=True):
    """A window as spans from an anchor."""

    earliest: Span
    target: Span
    latest: Span

    @classmethod
    def read(cls, text: WindowText | Recheck, where: str) -> Window:
        """Return the window, refused where it stands upside down."""
        window = cls(span(text.earliest), span(text.target), span(text.latest))
        for start in (date(2025, 1, 31), date(2024, 2, 29)):
            days = [s.after(start) for s in (window.earliest, window.target, window.latest)]
            if sorted(days) != days:
                raise ProtocolError(
                    f"{where}: the window runs backwards.",
                    hint="Put earliest before target and target before latest.",
                )
        return window


class Stages(msgspec.Struct, frozen=True):
    """The stages of a referral as spans from the visit."""

    sent: Span
    accepted: Span
    seen: Span
    result: Span


class Asks(msgspec.Struct, frozen=True, eq=False):
    """What one rule asks, with every span read: one for a rule of a protocol, and told apart so."""

    rule: Rule
    window: Window | None = None
    never: Window | None = None
    stages: Stages | None = None
    ages: tuple[tuple[Range, str], ...] = ()

    def known_by(self, age: int) -> str:
        """Return how the rule is known for somebody of that age."""
        for ages, known_by in self.ages:
            if ages.holds(age):
                return known_by
        return self.rule.known_by


class Protocol:
    """A protocol ready to use. Its digest changes with any of its content."""

    def __init__(self, file: ProtocolFile, contact: ContactProtocol, digest: str, signed: bool):
        self.file = file
        self.name = file.name
        self.version = file.version
        self.digest = digest
        self.signed_off = signed
        self.written = contact
        """The contact data as they are adopted and signed."""
        self.contact = contact
        """The same as the practice uses them, with the day on which it went live."""
        self.capabilities = EVERYTHING
        """What the practice that uses it can do; a setting, and no part of its content."""
        self.rules = file.rule
        self.matcher = Matcher(file.rule)
        self.of_fluid = frozenset(r.id for r in file.rule if _of_fluid(r))
        """Rules that only fluid, here or as told by others, can set off."""
        self.of_object = frozenset(r.id for r in file.rule if _of_object(r))
        """Rules that only an object in the canal can set off."""
        self.off_the_drum = frozenset(r.id for r in file.rule if r.track != "drum")
        """Rules that are about something else than the drum at large."""
        self.asks = {(r.id, r.version): self._asks(r) for r in file.rule}
        self.now_latest = span(file.now_latest)
        self.retry_adult = Window.read(file.retry.adult, "[retry]")
        self.retry_child = Window.read(file.retry.child, "[retry]")
        self.loop_window = Window.read(file.loop.window, "[loop]")
        self.categories: dict[Category, tuple[DefaultWindow, Window, Window]] = {
            c: (d, Window.read(d.adult, f"[category.{c}]"), Window.read(d.child, f"[category.{c}]"))
            for c, d in file.category.items()
        }

    def signed_by(self, *sign_offs: Path | None) -> Protocol:
        """Return the same protocol, signed off where a file says so of this exact content."""
        mine = copy.copy(self)
        mine.signed_off = sign_off_of(self.digest, *sign_offs) is not None
        return mine

    def used_with(self, capabilities: Capabilities, went_live: date | None = None) -> Protocol:
        """Return the same protocol for a practice that can do this much, live from a day on."""
        mine = copy.copy(self)
        mine.capabilities = capabilities
        mine.contact = self.written.in_use_from(went_live)
        return mine

    def used_like(self, other: Protocol) -> Protocol:
        """Return the same protocol for the practice that uses another one."""
        return self.used_with(other.capabilities, other.contact.live_from())

    def stages_for(self, urgency: Urgency, own: Refer | None = None) -> Stages:
        """Return a referral's stages: a rule's own, and the urgency's for what it leaves out."""
        default = self.file.stages[urgency]
        return Stages(*(self._stage(default, own, n) for n in StageText.__struct_fields__))

    @staticmethod
    def _stage(default: StageText, own: Refer | None, name: str) -> Span:
        mine: str | None = getattr(own, name) if own else None
        theirs: str = getattr(default, name)
        return span(mine or theirs)

    def _asks(self, rule: Rule) -> Asks:
        where = f"Rule {rule.id}"
        ages = tuple((read_range(k.age), str(k.known_by)) for k in rule.known_by_age)
        ask = rule.ask
        if isinstance(ask, Recheck):
            if ask.anchor not in ANCHORS:
                known = ", ".join(ANCHORS)
                raise ProtocolError(f"{where}: {ask.anchor!r} is no anchor.", hint=f"Use {known}.")
            never = Window.read(ask.never, where) if ask.never else None
            if never is None and ask.anchor in _MAY_BE_MISSING and not _known_anchor(rule):
                raise ProtocolError(
                    f"{where}: it counts from {ask.anchor}, which may not be recorded.",
                    hint="Say in `never` what then holds, or condition the rule on its clock.",
                )
            return Asks(rule, Window.read(ask, where), never, None, ages)
        if isinstance(ask, Refer):
            stages = self.stages_for(rule.urgency or "high", ask)
            return Asks(rule, None, None, stages, ages)
        return Asks(rule, ages=ages)


_MAY_BE_MISSING = {
    "last_hearing_test": "hearing_tested",
    "grommet_inserted": "grommet_in",
    "hearing_aid_fitted": "aid_fitted",
    "loss_treated": "loss_treated",
}


def _of_fluid(rule: Rule) -> bool:
    """Return whether a rule only matches where there is fluid."""
    on_record = "fluid_on_record" in rule.when.get("course", {})
    return on_record or "effusion" in rule.when.get("ear", {})


def _of_object(rule: Rule) -> bool:
    """Return whether a rule only matches where there is an object in the canal."""
    return "foreign_body" in rule.when.get("ear", {})


def _known_anchor(rule: Rule) -> bool:
    """Return whether the rule only matches where its anchor has happened."""
    assert isinstance(rule.ask, Recheck)
    clock = _MAY_BE_MISSING[rule.ask.anchor]
    text = str(rule.when.get("course", {}).get(clock, "or never"))
    return not text.endswith("or never")


def _check(rules: Sequence[Rule]) -> None:
    """Refuse what a rule must not be without."""
    seen: set[tuple[str, int]] = set()
    for rule in rules:
        where = f"Rule {rule.id}"
        if (rule.id, rule.version) in seen:
            raise ProtocolError(f"{where} version {rule.version} stands twice.")
        seen.add((rule.id, rule.version))
        for name in ("says", "source"):
            if not getattr(rule, name).strip():
                raise ProtocolError(f"{where} has no {name}.", hint="A rule without it stays out.")
        if not isinstance(rule.ask, Advise) and rule.urgency is None:
            raise ProtocolError(f"{where} has no urgency.", hint='Add one, like urgency = "high".')
        if rule.until is not None and rule.until <= rule.since:
            raise ProtocolError(f"{where} ends before it starts.", hint="Mend `until`.")
    for before, after in pairwise(versions(rules)):
        if before.id == after.id and (before.until is None or before.until > after.since):
            raise ProtocolError(
                f"Rule {after.id}: versions {before.version} and {after.version} "
                f"both judge visits from {after.since} on.",
                hint=f"Give version {before.version} `until = {after.since}`.",
            )


def versions(rules: Iterable[Rule]) -> list[Rule]:
    """Return rules with the versions of each side by side, in order of their first day."""
    return sorted(rules, key=lambda rule: (rule.id, rule.since))


def decode(text: bytes, where: str) -> ProtocolFile:
    """Return the decoded content of a protocol file."""
    try:
        raw = tomllib.loads(text.decode("utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as problem:
        raise ProtocolError(f"{where} is not a TOML file: {problem}.") from None
    try:
        return msgspec.convert(raw, ProtocolFile)
    except msgspec.ValidationError as problem:
        raise ProtocolError(f"{where}: {_name_rule(str(problem), raw)}.") from None


def _name_rule(problem: str, raw: dict[str, object]) -> str:
    """Return a decoding problem with the rule's id in the place of its number."""
    head, _, path = problem.partition(" - at `$.rule[")
    rules = raw.get("rule")
    if not path or not isinstance(rules, list):
        return problem
    number, _, field = path.partition("]")
    rule = rules[int(number)] if number.isdigit() else {}
    name = rule.get("id", f"number {int(number) + 1}") if isinstance(rule, dict) else number
    return f"rule {name}{', ' + field.strip('.`') if field.strip('.`') else ''}: {head}"


def _bytes_of(path: Path | None) -> bytes:
    if path is None:
        return (files("recall.protocol") / DEFAULT).read_bytes()
    try:
        return content_at(path)
    except OSError as problem:
        raise ProtocolError(
            f"The protocol {path.name} cannot be read: {problem.strerror}.",
            hint="Check `protocol` in the configuration.",
        ) from None


def digest_of(file: ProtocolFile, contact: ContactProtocol) -> str:
    """Return the hash of the decoded content: comments and layout do not count."""
    content = msgspec.json.encode((file, contact), order="sorted")
    return hashlib.sha256(content).hexdigest()


def short_digest(digest: str) -> str:
    """Return as much of a digest as people compare by eye."""
    return digest[:12]


def content_of(protocol: Protocol) -> bytes:
    """Return the decoded content as it is kept in the register and signed off."""
    return msgspec.json.encode((protocol.file, protocol.written), order="sorted")


def from_content(
    content: bytes, sign_offs: Sequence[Path | None] = (), digest: str | None = None
) -> Protocol:
    """Return a protocol from the content that the register kept.

    Args:
        content: with the days from which it counts in this register.
        sign_offs: the files that may hold its sign-off.
        digest: of the file that was adopted and signed, whose days may be earlier.

    Raises:
        ProtocolError: this program cannot read it any more.
    """
    return _kept(content, digest).signed_by(*sign_offs)


@lru_cache(maxsize=_READ)
def _kept(content: bytes, digest: str | None) -> Protocol:
    try:
        file, contact = msgspec.json.decode(content, type=tuple[ProtocolFile, ContactProtocol])
    except msgspec.ValidationError as problem:
        raise ProtocolError(
            f"The adopted protocol cannot be read by this version: {problem}.",
            hint="Adopt the present file with `recall protocol adopt`.",
        ) from None
    return Protocol(file, contact, digest or digest_of(file, contact), False)


def load(path: Path | None = None, sign_off: Path | None = None) -> Protocol:
    """Return the protocol in `path`, or the default one, checked and compiled.

    It is signed off where `sign_off`, or the file beside it, says so.

    Raises:
        ProtocolError: it cannot be used as it is; the message names the rule.
    """
    where = path.name if path else "The default protocol"
    return _written(_bytes_of(path), where).signed_by(sign_off, beside(path))


@lru_cache(maxsize=_READ)
def _written(content: bytes, where: str) -> Protocol:
    file = decode(content, where)
    _check(file.rule)
    contact = ContactProtocol.load()
    return Protocol(file, contact, digest_of(file, contact), False)

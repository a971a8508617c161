"""What was recorded, in plain lines for a colleague: no opinion is added to it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from recall.care.case import Case, Reported, ReportWord, Risk, ToldByOthers, Visit
from recall.care.catalogue import CATALOGUE
from recall.care.dates import Before, When, resolve
from recall.care.ear import Ear, Side, recorded
from recall.care.measured import Tympanogram
from recall.schedule.calendar import say_day


def ear_lines(ear: Ear | None) -> tuple[str, ...]:
    """Return the findings of one ear, one line for each that was recorded."""
    return tuple(_line(name, value) for name, value in recorded(ear).items())


def letter_ear_lines(ear: Ear | None, *, of_hearing: bool = True) -> tuple[str, ...]:
    """Return the findings of one ear for a letter: the normal ones last, in one line.

    What was not done is left out, but for a hearing test where the letter asks about hearing.
    """
    found = {
        name: value
        for name, value in recorded(ear).items()
        if not _was_not_done(name, value, found_wax=_had_wax(ear), of_hearing=of_hearing)
    }
    usual = [_line(name, value) for name, value in found.items() if _is_normal(name, value)]
    lines = [_line(name, value) for name, value in found.items() if not _is_normal(name, value)]
    return (*lines, *([f"Normal or absent: {'; '.join(usual)}"] if usual else []))


def _had_wax(ear: Ear | None) -> bool:
    return ear is not None and ear.wax_found not in (None, "none")


def _was_not_done(name: str, value: Any, *, found_wax: bool, of_hearing: bool) -> bool:
    """Return whether a line would only say that something was not done, and needed no doing."""
    if name == "clearance":
        return value == "not_attempted" and not found_wax
    if name == "hearing_screen":
        return value == "could_not_test" and not of_hearing
    return name == "examined" and value is True


def latest_ear_lines(case: Case, side: Side, *, of_hearing: bool = True) -> tuple[str, ...]:
    """Return what was last found in one ear; older findings than the newest visit's say so."""
    looked = [v for v in case.visits if recorded(getattr(v, side))]
    if not looked:
        return ()
    found = letter_ear_lines(getattr(looked[-1], side), of_hearing=of_hearing)
    newest = case.visits[-1].on
    if looked[-1].on == newest:
        return found
    label = f"Not examined on {say_day(newest)}; findings of {say_day(looked[-1].on)}:"
    return (label, *found)


def reported_lines(visit: Visit) -> tuple[str, ...]:
    """Return what was reported at a visit: which ear, since when, how fast it came on."""
    return said_lines(visit.reported, visit.on)


def said_lines(reported: Sequence[ReportWord | Reported], on: date) -> tuple[str, ...]:
    """Return what was reported on a day, one line each."""
    return tuple(_said(item, on) for item in reported)


def history_lines(case: Case, visit: Visit | None) -> tuple[str, ...]:
    """Return what was reported at a visit, the risks, and what others have told."""
    lines = list(reported_lines(visit)) if visit else []
    return (*lines, *background_lines(case, visit))


def background_lines(case: Case, visit: Visit | None) -> tuple[str, ...]:
    """Return the risks, what others have told, and the days of the visits before this one."""
    lines = []
    lines += [_risk(risk) for risk in case.risks]
    for told in case.told_by_others:
        lines.append(f"{told.ear} ear, told by {told.source}: {_told(told)} ({told.on})")
    before = dict.fromkeys(v.on for v in case.visits if visit and v.on < visit.on)
    if before:
        lines.append(f"seen here before on {', '.join(say_day(on) for on in [*before][-5:])}")
    return tuple(lines)


def _told(told: ToldByOthers) -> str:
    """Return all that somebody else documented of an ear."""
    said = [told.surgery] if told.surgery else []
    said += [f"effusion {told.effusion}"] if told.effusion else []
    if told.hearing_dB:
        said.append(f"hearing {_value(told.hearing_dB)}")
    elif told.hearing_tested:
        said.append("hearing tested")
    said += [_line("tympanogram", told.tympanogram)] if told.tympanogram else []
    return "; ".join(said) or "documented"


def _is_normal(name: str, value: Any) -> bool:
    finding = CATALOGUE[name]
    return finding.is_normal(value) and not finding.told


def _line(name: str, value: Any) -> str:
    words = CATALOGUE[name].letter or name.replace("_", " ")
    return f"{words}: {_value(value)}"


def _value(value: Any) -> str:
    if value is True or value is False:
        return "yes" if value else "no"
    if isinstance(value, Tympanogram):
        return _trace(value)
    if isinstance(value, dict):
        return ", ".join(f"{hz} Hz {_level(level)}" for hz, level in value.items())
    return str(value).replace("_", " ")


def _level(level: Any) -> str:
    return "no response" if level == "nr" else f"{level:g}"


def _trace(trace: Tympanogram) -> str:
    """Return a trace in words."""
    parts = []
    if isinstance(trace.type, str):
        parts.append(f"type {trace.type}")
    if trace.flat is True:
        parts.append("flat")
    if isinstance(trace.peak_daPa, int | float):
        parts.append(f"peak at {trace.peak_daPa:g} daPa")
    if isinstance(trace.compliance_ml, int | float):
        parts.append(f"compliance {trace.compliance_ml:g} ml")
    if isinstance(trace.volume_ml, int | float):
        parts.append(f"canal volume {trace.volume_ml:g} ml")
    return ", ".join(parts)


def _said(item: str | Reported, on: date) -> str:
    if not isinstance(item, Reported):
        return f"{item.replace('_', ' ')} reported"
    words = f"{item.what.replace('_', ' ')} reported"
    if item.ear:
        words += f", {item.ear} ear"
    if item.since is not None:
        words += f", since {_since(item.since, on)}"
    if item.onset_days is not None:
        days = "1 day" if item.onset_days == 1 else f"{item.onset_days} days"
        words += f", came on over {days}"
    return f"{words}: {item.because}" if item.because else words


def _since(since: When, on: date) -> str:
    """Return a day in words; what was told as a month or as so long before is only about then."""
    found = resolve(since, on)
    if not isinstance(since, Before):
        return f"{found.on:%B %Y}" if found.vague else say_day(found.on)
    about = since.years or since.months or since.weeks
    return f"about {say_day(found.on)}" if about else say_day(found.on)


def _risk(risk: str | Risk) -> str:
    if not isinstance(risk, Risk):
        return risk.replace("_", " ")
    return risk.what.replace("_", " ") + (f", {risk.ear} ear" if risk.ear else "")

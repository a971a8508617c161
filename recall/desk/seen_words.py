"""What was recorded, in plain lines for a colleague: no opinion is added to it."""

from __future__ import annotations

from typing import Any

from recall.care.case import Case, Reported, Risk, Visit
from recall.care.ear import Ear, Tympanogram, recorded
from recall.schedule.calendar import say_day

_NAMES = {
    "tensa_grade": "pars tensa retraction, grade (Sadé)",
    "attic_grade": "pars flaccida retraction, grade (Tos)",
    "tensa_mobile": "pars tensa mobile",
    "hearing_dB": "hearing, air conduction (dB HL)",
    "bone_dB": "hearing, bone conduction (dB HL)",
}


def ear_lines(ear: Ear | None) -> tuple[str, ...]:
    """Return the findings of one ear, one line for each that was recorded."""
    return tuple(_line(name, value) for name, value in recorded(ear).items())


def history_lines(case: Case, visit: Visit | None) -> tuple[str, ...]:
    """Return what was reported at a visit, the risks, and what others have told."""
    lines = [_said(item) for item in visit.reported] if visit else []
    lines += [_risk(risk) for risk in case.risks]
    for told in case.told_by_others:
        what = told.surgery or (f"effusion {told.effusion}" if told.effusion else "documented")
        lines.append(f"{told.ear} ear, told by {told.source}: {what} ({told.on})")
    earlier = [v for v in case.visits if visit and v.on < visit.on][-5:]
    lines += [f"seen here before on {say_day(v.on)}" for v in earlier]
    return tuple(lines)


def _line(name: str, value: Any) -> str:
    words = _NAMES.get(name, name.replace("_", " "))
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


def _said(item: str | Reported) -> str:
    if not isinstance(item, Reported):
        return f"{item.replace('_', ' ')} reported"
    words = f"{item.what.replace('_', ' ')} reported"
    if item.ear:
        words += f", {item.ear} ear"
    if item.since is not None:
        words += f", since {item.since}"
    if item.onset_days is not None:
        words += f", came on over {item.onset_days} days"
    return f"{words}: {item.because}" if item.because else words


def _risk(risk: str | Risk) -> str:
    if not isinstance(risk, Risk):
        return risk.replace("_", " ")
    return risk.what.replace("_", " ") + (f", {risk.ear} ear" if risk.ear else "")

"""The JSON Schema of a case file: each field with what it means, in one line, with its unit."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import msgspec

from recall.care.case import Case
from recall.care.catalogue import CATALOGUE

_MEANS: Mapping[str, Mapping[str, str]] = {
    "Case": {
        "born": "The person's date of birth (YYYY-MM-DD).",
        "case_version": "Which form of case file this is.",
        "risks": "What about the person, or an ear, changes the follow-up.",
        "visits": "The visits, in any order.",
        "under_care": "What is assessed or followed elsewhere.",
        "told_by_others": "What others have documented.",
        "loss_treated_on": "The day or month treatment of a sudden loss ended, where nobody said "
        "of which ear: it counts for both.",
    },
    "Visit": {
        "on": "The day of the visit (YYYY-MM-DD).",
        "examiner": "Who examined, by name.",
        "reported": "What the person, or whoever came with them, said.",
        "right": "What was found in the right ear.",
        "left": "What was found in the left ear.",
    },
    "Reported": {
        "what": "What was said.",
        "ear": "Of which ear; of both, or of none by itself, where it is left out.",
        "since": "The day or month it began, or how long before the visit.",
        "onset_days": "Over how many days it came on, from first to worst: a number of days; not "
        "how many days ago.",
        "because": "For `loss_explained`: what a clinician found to explain it.",
    },
    "Risk": {
        "what": "What it is.",
        "ear": "Of which ear; of both where it is left out.",
        "since": "The day or month from which it holds; always where it is left out.",
        "until": "The day or month on which it ends; open where it is left out.",
    },
    "UnderCare": {
        "of": "The service that has it.",
        "ear": "Of which ear; of both where it is left out.",
        "track": "What is followed; everything where it is left out.",
        "since": "The day or month it began.",
        "until": "The day or month it ends; open where it is left out.",
        "where": "At which clinic or hospital, as it was told.",
        "next_seen": "The day they are seen there next (YYYY-MM-DD), as it was told.",
    },
    "ToldByOthers": {
        "on": "The day or month it was documented.",
        "ear": "Of which ear.",
        "source": "Who documented it.",
        "effusion": "Fluid behind the drum.",
        "hearing_dB": "Hearing by air: dB HL by frequency in Hz.",
        "grommet_on": "The day or month a grommet was put in.",
        "surgery": "An operation on the ear, in words.",
        "hearing_tested": "That hearing was tested, where the levels are not known.",
        "tympanogram": "The trace of tympanometry: pressure in daPa, compliance and volume in ml.",
    },
    "Before": {
        "years": "A number of whole years before the visit.",
        "months": "A number of whole months before the visit.",
        "weeks": "A number of whole weeks before the visit.",
        "days": "A number of whole days before the visit.",
    },
    "Tympanogram": {
        "peak_daPa": "The pressure at the peak, in daPa.",
        "compliance_ml": "The height of the peak, in ml.",
        "volume_ml": "The volume of the ear canal, in ml (226 Hz probe tone).",
        "flat": "That the trace has no peak.",
        "type": "The type that somebody read off the trace.",
    },
    "Ear": {name: finding.means for name, finding in CATALOGUE.items()},
}


def schema() -> dict[str, Any]:
    """Return the JSON Schema of a case file (draft 2020-12)."""
    made = msgspec.json.schema(Case)
    for name, part in made["$defs"].items():
        for field, values in part.get("properties", {}).items():
            if said := _MEANS[name].get(field):
                values["description"] = said
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", "title": "Case file", **made}

"""One child's visit, worked out by hand from the published intervals.

Fluid: early look 4 to 8 weeks, common practice, no source (NICE NG233 2023, 1.1.3-1.1.4, asks
for none while hearing is normal). Hearing loss with fluid: again 3 months after the fluid was
first documented (NICE NG233 2023, as quoted; CG60 2008; AAO-HNSF 2016, statements 7 and 9).
Retraction touching the bones: annual in Cutajar et al. 2018; 6 months for a child is common
practice, no source.
"""

from __future__ import annotations

from datetime import date
from typing import Any

import msgspec

from recall.care.casefile import decode_case
from recall.protocol.comparing import in_hindsight
from recall.protocol.loading import Protocol, load
from recall.schedule.planning import plan

CASE = b"""{
  "born": "2018-03-02",
  "risks": [],
  "visits": [
    {
      "on": "2026-09-01",
      "examiner": "A",
      "reported": ["hearing_concern"],
      "right": {
        "wax_found": "occluding", "wax_left": "none", "clearance": "cleared",
        "drum_seen": "full", "attic_seen": true, "effusion": "present", "tensa_grade": 2,
        "pocket_base_seen": true,
        "hearing_dB": {"500": 30, "1000": 35, "2000": 30, "4000": 35}
      },
      "left": {"wax_found": "some", "wax_left": "none", "drum_seen": "full",
               "effusion": "absent",
               "hearing_dB": {"500": 15, "1000": 15, "2000": 15, "4000": 20}}
    }
  ]
}"""


def planned(protocol: Protocol | None = None) -> dict[str, Any]:
    found = plan(decode_case(CASE), protocol or load(), date(2026, 9, 1))
    return dict(msgspec.to_builtins(found, str_keys=True))


def test_three_follow_ups_with_the_windows_worked_out_by_hand() -> None:
    keys = ("earliest", "target", "latest", "urgency", "tracks", "do", "offer_on")
    found = [tuple(f[k] for k in keys) for f in planned()["follow_ups"]]

    assert found == [
        (
            "2026-09-29",
            "2026-10-13",
            "2026-10-27",
            "medium",
            ("fluid",),
            ("otoscopy", "tympanometry"),
            None,
        ),
        (
            "2026-11-17",
            "2026-11-24",
            "2026-12-15",
            "high",
            ("hearing",),
            ("hearing_test", "tympanometry"),
            None,
        ),
        (
            "2027-02-01",
            "2027-03-01",
            "2027-04-01",
            "medium",
            ("retraction",),
            ("otoscopy", "hearing_test"),
            None,
        ),
    ]


def test_the_fluid_due_names_its_rule_and_how_it_is_known() -> None:
    (due,) = planned()["follow_ups"][0]["dues"]

    assert (due["ear"], due["track"], due["category"]) == ("right", "fluid", "fluid_recheck")
    assert (due["rule"], due["rule_version"], due["known_by"]) == ("fluid-child-look", 1, "CP")
    assert due["says"] and due["source"]


def test_nothing_is_referred_unanswered_or_left_without_a_reason() -> None:
    found = planned()

    assert found["referrals"] == ()
    assert found["unanswered"] == ()
    assert found["nothing_due"] == ()
    assert [a["rule"] for a in found["advice"]] == ["wax-cleared-advice"]
    assert found["notices"] == ("Protocol not yet signed off by this practice.",)
    assert found["protocol"] == {"name": "default", "version": "2026.1", "signed_off": False}
    assert (found["case_version"], found["on"]) == (1, "2026-09-01")


def test_the_newest_rules_refer_a_measured_loss_that_somebody_worries_about() -> None:
    """In place of the test three months on; both looks keep the windows worked out by hand.

    Devon formulary, hearing loss in children: a parent's concern is referred; NICE NG233 (2023),
    as quoted: sooner than three months where daily life is hit. Twelve weeks: common practice.
    """
    found = planned(in_hindsight(load()))

    assert [
        (f["tracks"], f["earliest"], f["target"], f["latest"]) for f in found["follow_ups"]
    ] == [
        (("fluid",), "2026-09-29", "2026-10-13", "2026-10-27"),
        (("retraction",), "2027-02-01", "2027-03-01", "2027-04-01"),
    ]
    (referral,) = found["referrals"]
    assert (referral["to"], referral["stages"]["seen_by"]) == ("paediatric_audiology", "2026-11-24")

"""Courses of adults: wax, hearing aids, holes, cavities, canal skin, and what cannot wait."""

from collections.abc import Callable
from datetime import timedelta

from making.course import Course, Teller, Visit
from making.ears import SIDES, hearing, leave_out

HEALS = 0.9
"""Share of traumatic holes that have healed by six weeks (Devon formulary, perforated drum)."""


def wax(teller: Teller) -> Course:
    """Tell of wax that keeps coming back, each person at their own pace."""
    rng = teller.rng
    start = teller.start(330)
    ears = teller.wax(start, rng.choice((5, 7, 9, 12)))

    def look(number: int, visit: Visit) -> None:
        stuck = False
        for side in SIDES:
            ear = ears.look(side, visit.on)
            stuck = stuck or ear.get("clearance") == "failed"
            visit.put(side, leave_out(rng, ear, "clearance", share=0.1))
        if rng.random() < 0.05:
            visit.right, visit.left, visit.category = {}, {}, "wax_routine"
        visit.back_in = 10 if stuck else rng.choice((152, 182, 182, 213))

    return teller.tell(start, look, comes=0.87)


def wax_once(teller: Teller) -> Course:
    """Tell of one visit for wax, and no need for another."""
    start = teller.start(1085)
    ears = teller.wax(start, 30)

    def look(number: int, visit: Visit) -> None:
        for side in SIDES:
            visit.put(side, ears.look(side, visit.on, fails=0.0))

    return teller.tell(start, look)


def care_home(teller: Teller) -> Course:
    """Tell of somebody in a care home, seen on the rounds there."""
    rng = teller.rng
    start = teller.start(220)
    ears = teller.wax(start, 6)

    def look(number: int, visit: Visit) -> None:
        for side in SIDES:
            ear = ears.look(side, visit.on, fails=0.15)
            if rng.random() < 0.06:
                ear = {"examined": False, "not_examined": "refused"}
            visit.put(side, ear)
        visit.back_in = 182

    return teller.tell(start, look, comes=0.9)


def hearing_aid(teller: Teller) -> Course:
    """Tell of a hearing-aid user: fitted, followed up, cleaned, tested every few years."""
    rng, person = teller.rng, teller.person
    start = teller.start(250)
    ears = teller.wax(start, 7)
    fitted = start - timedelta(days=rng.choice((50, 60, 400, 900, 1500)))
    loss = rng.uniform(30, 60)

    def look(number: int, visit: Visit) -> None:
        tested = number == 0 or rng.random() < 0.1
        for side in SIDES:
            ear = ears.look(side, visit.on)
            if ear["drum_seen"] == "full" and tested:
                ear["hearing_dB"] = hearing(rng, loss, slope=6, wide=True)
            if number == 0 and (visit.on - fitted).days < 100:
                ear["hearing_aid_fitted_on"] = fitted.isoformat()
            visit.put(side, ear)
        visit.back_in = 182 if person.age_on(visit.on) < 85 else 122

    return teller.tell(start, look, comes=0.9)


def hole(teller: Teller) -> Course:
    """Tell of a hole in a drum: by injury, which mostly heals, or dry and old."""
    rng = teller.rng
    start = teller.start(900)
    side = rng.choice(SIDES)
    old = rng.random() < 0.4
    heals = not old and rng.random() < HEALS

    def look(number: int, visit: Visit) -> None:
        healed = heals and number > 0
        ear = {"wax_found": "some", "drum_seen": "full"}
        ear["perforation"] = "healed" if healed else "central"
        if not healed:
            ear["perforation_cause"] = "unknown" if old else "trauma"
            ear["perforation_new"] = not old and number == 0
            ear["discharge"] = "clear" if rng.random() < 0.08 else "none"
        if rng.random() < 0.7:
            ear["hearing_dB"] = hearing(rng, 15 if healed else 26)
        visit.put(side, ear)
        visit.put("left" if side == "right" else "right", {"drum_seen": "full"})
        visit.back_in = None if healed else (365 if old or number > 2 else 42)

    return teller.tell(start, look, comes=0.82, most=5)


def cavity(teller: Teller) -> Course:
    """Tell of an open mastoid cavity, cleaned for life."""
    rng = teller.rng
    start = teller.start(150)
    side = rng.choice(SIDES)
    quiet = rng.random() < 0.4

    def look(number: int, visit: Visit) -> None:
        wet = not quiet and rng.random() < 0.25
        visit.put(side, {"cavity": True, "cavity_quiet": quiet, "wax_found": "partial"})
        visit.put(side, {"clearance": "cleared", "wax_left": "none"})
        visit.put(side, {"discharge": "purulent" if wet else "none"})
        other = {"wax_found": "some", "drum_seen": "full", "attic_seen": True}
        visit.put("left" if side == "right" else "right", other)
        visit.back_in = 334 if quiet else 168

    return teller.tell(start, look, comes=0.88)


def canal_skin(teller: Teller) -> Course:
    """Tell of an inflamed canal, sometimes fungal, looked at again soon."""
    rng = teller.rng
    start = teller.start(1085)
    side = rng.choice(SIDES)
    kind = "fungal" if rng.random() < 0.25 else "inflamed"
    visits = rng.choice((1, 2, 2, 3))

    def look(number: int, visit: Visit) -> None:
        settled = number >= visits - 1 and number > 0
        ear = {"wax_found": "some", "canal_skin": "normal" if settled else kind}
        ear["drum_seen"] = "full" if settled else rng.choice(("full", "part"))
        ear["treated"] = not settled
        if not settled:
            ear["discharge"] = rng.choice(("none", "clear", "purulent"))
            visit.reported.append({"what": "pain", "ear": side, "onset_days": rng.randint(2, 12)})
        visit.put(side, ear)
        visit.back_in = None if settled else (7 if kind == "fungal" else 14)

    return teller.tell(start, look, comes=0.8, most=4)


def red_flag(teller: Teller) -> Course:
    """Tell of something that cannot wait: one visit, and a referral."""
    rng = teller.rng
    start = teller.start(1085)
    side = rng.choice(SIDES)
    flags: tuple[Callable[[Visit], None], ...] = (
        _sudden_loss,
        _worsening,
        _worn_bone,
        _one_sided_fluid,
        _asymmetry,
        _drumming_noise,
    )
    flag = rng.choice(flags)

    def look(number: int, visit: Visit) -> None:
        for each in SIDES:
            visit.put(each, {"wax_found": "some", "drum_seen": "full", "attic_seen": True})
        flag(teller, visit, side)
        visit.back_in = 42 if number == 0 and rng.random() < 0.5 else None

    return teller.tell(start, look, comes=0.85, most=2)


def _sudden_loss(teller: Teller, visit: Visit, side: str) -> None:
    since = visit.on - timedelta(days=teller.rng.choice((1, 2, 4, 9, 33)))
    visit.reported.append(
        {"what": "sudden_hearing_loss", "ear": side, "since": since.isoformat(), "onset_days": 1}
    )
    visit.put(side, {"effusion": "absent", "hearing_dB": hearing(teller.rng, 55)})


def _worsening(teller: Teller, visit: Visit, side: str) -> None:
    days = teller.rng.randint(10, 80)
    visit.reported.append({"what": "worsening_hearing_loss", "ear": side, "onset_days": days})
    visit.put(side, {"effusion": "absent", "hearing_dB": hearing(teller.rng, 45)})


def _worn_bone(teller: Teller, visit: Visit, side: str) -> None:
    visit.put(side, {"attic_grade": 3, "scutum_erosion": True, "pocket_base_seen": False})
    visit.put(side, {"keratin": True, "attic_crust": teller.rng.random() < 0.5})
    visit.note = "White matter at the attic. Sent to ENT."


def _one_sided_fluid(teller: Teller, visit: Visit, side: str) -> None:
    visit.put(side, {"effusion": "present", "hearing_dB": hearing(teller.rng, 38)})
    visit.put("left" if side == "right" else "right", {"effusion": "absent"})


def _asymmetry(teller: Teller, visit: Visit, side: str) -> None:
    for each in SIDES:
        level = 45 if each == side else 20
        visit.put(each, {"effusion": "absent", "hearing_dB": hearing(teller.rng, level, 4, True)})


def _drumming_noise(teller: Teller, visit: Visit, side: str) -> None:
    what = teller.rng.choice(("tinnitus_pulsatile", "tinnitus_one_sided", "facial_weakness"))
    visit.reported.append({"what": what, "ear": side})
    visit.put(side, {"effusion": "absent"})

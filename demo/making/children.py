"""Courses of children: fluid that clears or stays, grommets, drums that sink, children at risk."""

from datetime import timedelta

from making.course import Course, Teller, Visit
from making.ears import SIDES, hearing, leave_out, trace

CLEARS_SHAPE, CLEARS_SCALE_MONTHS = 0.730, 13.80
"""Weibull through the pooled clearing of fluid of unknown duration: 28% at 3 months, 42% at 6
(Rosenfeld and Kay, Laryngoscope 2003;113:1645-57)."""


def fluid(teller: Teller) -> Course:
    """Tell of fluid behind one or both drums that clears, or persists and gets grommets."""
    rng, person = teller.rng, teller.person
    start = teller.start()
    sides = SIDES if rng.random() < 0.6 else (rng.choice(SIDES),)
    months = rng.weibullvariate(CLEARS_SCALE_MONTHS, CLEARS_SHAPE)
    clear_on = start + timedelta(days=int(months * 30.4) + 1)
    wax = teller.wax(start, 16)

    def look(number: int, visit: Visit) -> None:
        wet = visit.on < clear_on
        tested = person.age_on(visit.on) >= 3 and (number > 0 or rng.random() < 0.35)
        for side in SIDES:
            ear = wax.look(side, visit.on, fails=0.03)
            if ear["drum_seen"] == "full":
                full = wet and side in sides
                ear["effusion"] = "present" if full else "absent"
                if full and rng.random() < 0.12:
                    ear["effusion"] = "suspected"
                ear["tympanogram"] = trace(rng, full)
                if rng.random() < 0.5:
                    ear["attic_seen"] = True
                if tested:
                    ear["hearing_dB"] = hearing(rng, 30 if full else 13)
            visit.put(side, leave_out(rng, ear, "tympanogram", "clearance", share=0.2))
        if wet and rng.random() < 0.4:
            visit.reported.append(rng.choice(("hearing_concern", "speech_concern", "recent_cold")))
        visit.back_in = (42 if number == 0 else 90) if wet else None

    return teller.tell(start, look, comes=0.8, most=8)


def grommets(teller: Teller) -> Course:
    """Tell of grommets: put in elsewhere, checked, blocked or out, the drum after them."""
    rng = teller.rng
    start = teller.start(450)
    put_in = start - timedelta(days=rng.randint(35, 100))
    lasts = timedelta(days=int(rng.triangular(150, 900, 330)))
    stuck = rng.random() < 0.1

    def look(number: int, visit: Visit) -> None:
        inside = stuck or visit.on < put_in + lasts
        for side in SIDES:
            ear = {"wax_found": "none", "drum_seen": "full", "attic_seen": True}
            if inside:
                ear["grommet"] = "blocked" if rng.random() < 0.12 else "in_place"
                ear["discharge"] = "purulent" if rng.random() < 0.06 else "none"
            else:
                ear["grommet"] = "in_canal" if rng.random() < 0.35 else "gone"
                hole = ear["grommet"] == "gone" and rng.random() < 0.05
                ear["perforation"] = "central" if hole else "none"
                ear["effusion"] = "present" if not hole and rng.random() < 0.25 else "absent"
            ear["grommet_on"] = put_in.isoformat()
            if number == 0 or not inside:
                ear["hearing_dB"] = hearing(rng, 28 if ear.get("effusion") == "present" else 15)
            visit.put(side, ear)
        visit.back_in = 182 if inside else (84 if number < 6 and rng.random() < 0.5 else None)

    return teller.tell(start, look, comes=0.86, most=7)


def sinking(teller: Teller) -> Course:
    """Tell of a drum that is sucked in: steady mostly, sometimes worse, rarely with keratin."""
    rng, person = teller.rng, teller.person
    start = teller.start(450)
    side = rng.choice(SIDES)
    tensa, attic = rng.choice((1, 1, 2, 2, 2, 3)), rng.choice((0, 0, 0, 1, 1, 2))
    state = {"tensa": tensa, "attic": attic, "bad": False}

    def look(number: int, visit: Visit) -> None:
        if number and rng.random() < 0.16:
            step = rng.choice(("tensa", "attic"))
            state[step] = min(4, state[step] + 1)
        elif number and rng.random() < 0.2:
            state["tensa"] = max(0, state["tensa"] - 1)
        state["bad"] = state["bad"] or state["attic"] >= 3 or rng.random() < 0.015
        for each in SIDES:
            ear = {"wax_found": "none", "drum_seen": "full", "attic_seen": True}
            ear["effusion"] = "absent"
            if each == side:
                ear.update(tensa_grade=state["tensa"], attic_grade=state["attic"])
                ear["tensa_mobile"] = state["tensa"] < 4
                ear["pocket_base_seen"] = not (state["tensa"] >= 3 and rng.random() < 0.2)
                ear["keratin"] = state["bad"]
                ear["scutum_erosion"] = state["attic"] >= 3
                ear["hearing_dB"] = hearing(rng, 14 + 5 * state["tensa"])
            visit.put(each, leave_out(rng, ear, "keratin", "tensa_mobile", "hearing_dB"))
        visit.back_in = 182 if person.age_on(visit.on) < 16 else 365
        if state["bad"]:
            visit.note = "Sent to ENT, asked them to see soon."
            visit.back_in = 84

    return teller.tell(start, look, comes=0.83, most=7)


def watched(teller: Teller) -> Course:
    """Tell of children whose hearing is watched because of a risk, with or without fluid."""
    rng, person = teller.rng, teller.person
    start = teller.start(250)

    def look(number: int, visit: Visit) -> None:
        for side in SIDES:
            wet = rng.random() < 0.35
            ear = {"wax_found": "some", "drum_seen": "full"}
            ear["effusion"] = "present" if wet else "absent"
            if person.age_on(visit.on) >= 3 and rng.random() < 0.75:
                ear["hearing_dB"] = hearing(rng, 32 if wet else 17)
            elif rng.random() < 0.5:
                ear["hearing_screen"] = rng.choice(("passed", "not_passed", "could_not_test"))
            if rng.random() < 0.08:
                ear = {"examined": False, "not_examined": "refused"}
            visit.put(side, ear)
        visit.back_in = 182

    return teller.tell(start, look, comes=0.77, most=7)


def acute(teller: Teller) -> Course:
    """Tell of an infected middle ear, some with a fresh hole that heals."""
    rng = teller.rng
    start = teller.start(1080)
    side = rng.choice(SIDES)
    burst = rng.random() < 0.4

    def look(number: int, visit: Visit) -> None:
        ear: dict = {"wax_found": "none", "drum_seen": "full"}
        if number == 0:
            ear["red"] = True
            visit.reported.append({"what": "pain", "ear": side, "onset_days": 3})
            if burst:
                ear.update(perforation="central", perforation_cause="infection")
                ear.update(perforation_new=True, discharge="purulent")
            else:
                ear.update(bulging=True, effusion="present")
        else:
            ear.update(perforation="healed" if burst else "none", effusion="absent")
        visit.put(side, ear)
        visit.put(
            "left" if side == "right" else "right", {"drum_seen": "full", "effusion": "absent"}
        )
        visit.back_in = 42 if number == 0 else None

    return teller.tell(start, look, comes=0.78, most=3)

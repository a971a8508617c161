"""The whole practice: how many people of each story, and the course of each."""

import random
from collections.abc import Callable
from dataclasses import dataclass

from making import DEMO_DAY, SEED, adults, awkward, children
from making.course import Course, Teller
from making.people import Register

Story = Callable[[Teller], Course]


@dataclass(frozen=True)
class Share:
    """How many people live one story, how old they are on the demo's day, and their risks."""

    story: Story
    people: int
    ages: tuple[float, float]
    risks: tuple[str, ...] = ()


SHARES = (
    Share(adults.wax, 140, (28, 88)),
    Share(adults.wax, 12, (24, 60), ("learning_disability",)),
    Share(adults.wax, 10, (40, 80), ("narrow_canal",)),
    Share(adults.wax, 14, (45, 85), ("diabetes",)),
    Share(adults.wax, 14, (60, 90), ("anticoagulant",)),
    Share(adults.wax_once, 36, (19, 80)),
    Share(adults.care_home, 16, (79, 98), ("care_home",)),
    Share(adults.care_home, 10, (79, 98), ("care_home", "dementia")),
    Share(adults.hearing_aid, 78, (58, 94), ("hearing_aid",)),
    Share(adults.hearing_aid, 4, (60, 88), ("hearing_aid", "only_hearing_ear")),
    Share(adults.hole, 26, (17, 70)),
    Share(adults.cavity, 20, (30, 78), ("previous_ear_surgery",)),
    Share(adults.cavity, 4, (30, 78), ("previous_ear_surgery", "previous_cholesteatoma")),
    Share(adults.canal_skin, 30, (18, 75)),
    Share(adults.canal_skin, 3, (66, 84), ("diabetes",)),
    Share(adults.red_flag, 22, (24, 82)),
    Share(children.sinking, 14, (18, 55)),
    Share(children.sinking, 26, (5, 15)),
    Share(children.fluid, 54, (3.5, 11)),
    Share(children.fluid, 5, (4, 10), ("speech_delay",)),
    Share(children.fluid, 2, (5, 9), ("autism",)),
    Share(children.grommets, 26, (5, 12)),
    Share(children.watched, 7, (3.5, 12), ("down_syndrome",)),
    Share(children.watched, 6, (3.5, 13), ("cleft_palate",)),
    Share(children.acute, 16, (4, 14)),
)


def tell_all() -> tuple[Register, list[Course]]:
    """Return the register and the courses of everybody in it, the same every time."""
    register = Register(random.Random(SEED))
    stories: dict[str, Story] = {"fluid": children.fluid, "wax": adults.wax}
    stories["wax_once"] = adults.wax_once
    for share in SHARES:
        name = share.story.__name__
        stories[name] = share.story
        for _ in range(share.people):
            register.add(name, share.ages, share.risks)
    awkward.add_doubles(register)
    awkward.rename(register.people)
    awkward.spoil(register.people)
    awkward.mark_apart(register.people)
    awkward.add_bad_rows(register)
    courses = []
    for place, person in enumerate(register.people):
        if person.born > DEMO_DAY:
            continue
        # Each person has a source of chance of their own, so that changing one changes no other.
        rng = random.Random(f"{SEED} {place}")
        courses.append(stories[person.story](Teller(rng, person)))
    return register, courses

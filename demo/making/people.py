"""The people of the invented practice: who they are, where they live, how to reach them."""

import random
import unicodedata
from dataclasses import dataclass, field
from datetime import date, timedelta

from making import DEMO_DAY
from making.names import (
    BOYS,
    CARE_HOMES,
    FAMILIES,
    GIRLS,
    INWARD,
    MEN,
    PLACES,
    STREETS,
    SURGERIES,
    WOMEN,
)


@dataclass
class Home:
    """One address, with whoever is written to for the children there."""

    lines: tuple[str, ...]
    postcode: str
    phone: str
    family: str
    adult: str = ""
    is_care_home: bool = False


@dataclass
class Person:
    """One person of the register."""

    ref: str
    given: str
    family: str
    born: date
    sex: str
    home: Home
    story: str
    title: str = ""
    mobile: str = ""
    email: str = ""
    nhs_number: str = ""
    gp: str = ""
    adult_relation: str = ""
    language: str = ""
    format: str = ""
    note: str = ""
    risks: list[str] = field(default_factory=list)
    deceased_on: date | None = None
    objected_on: date | None = None

    def age_on(self, day: date) -> int:
        """Return the age in whole years."""
        return day.year - self.born.year - ((day.month, day.day) < (self.born.month, self.born.day))

    @property
    def is_child(self) -> bool:
        """Return whether letters go to an adult on the demo's day."""
        return self.age_on(DEMO_DAY) < 16


class Register:
    """Draws people and homes; numbers are handed out in order, so that none is used twice."""

    def __init__(self, rng: random.Random) -> None:
        self.rng = rng
        self.people: list[Person] = []
        self.family_homes: list[Home] = []
        self.couple_homes: list[Home] = []
        self.care_homes = [
            Home((name, street, place), code, self.landline(), "", is_care_home=True)
            for name, street, place, code in CARE_HOMES
        ]

    _landlines = _mobiles = _nhs = 0

    def landline(self) -> str:
        """Return the next landline number of the drama range."""
        self._landlines += 1
        return f"01632 960{(self._landlines + 100) % 1000:03d}"

    def mobile(self) -> str:
        """Return the next mobile number of the drama range."""
        self._mobiles += 1
        return f"07700 900{self._mobiles % 1000:03d}"

    def nhs(self) -> str:
        """Return the next valid number of the test range, check digit modulo 11."""
        while True:
            self._nhs += 1
            digits = f"999{self._nhs * 811 % 1_000_000:06d}"
            weighed = sum(int(d) * w for d, w in zip(digits, range(10, 1, -1), strict=True))
            check = (11 - weighed % 11) % 11
            if check < 10:
                return f"{digits[:3]} {digits[3:6]} {digits[6:]}{check}"

    def home(self, family: str) -> Home:
        """Return a new home in an invented street."""
        rng = self.rng
        place, code = rng.choice(PLACES)
        street = f"{rng.randint(1, 140)} {rng.choice(STREETS)}"
        lines = (
            (street, place) if rng.random() < 0.8 else (f"Flat {rng.randint(1, 9)}", street, place)
        )
        postcode = code + rng.choice(INWARD) + rng.choice(INWARD)
        phone = self.landline() if rng.random() < 0.6 else ""
        return Home(lines, postcode, phone, family)

    def home_for(self, story: str, age: float) -> Home:
        """Return a home: with a brother or sister, with a spouse, in a care home, or a new one."""
        rng = self.rng
        if story == "care_home":
            return rng.choice(self.care_homes)
        if age < 16:
            if self.family_homes and rng.random() < 0.3:
                return rng.choice(self.family_homes)
            home = self.home(rng.choice(FAMILIES))
            title, names = ("Ms", WOMEN) if rng.random() < 0.75 else ("Mr", MEN)
            home.adult = f"{title} {rng.choice(names)} {home.family}"
            self.family_homes.append(home)
            return home
        if self.couple_homes and rng.random() < 0.25:
            return self.couple_homes.pop()
        home = self.home(rng.choice(FAMILIES))
        self.couple_homes.append(home)
        return home

    def add(self, story: str, ages: tuple[float, float], risks=()) -> Person:
        """Add one person whose age on the demo's day lies within `ages`."""
        rng = self.rng
        age = rng.uniform(*ages)
        home = self.home_for(story, age)
        sex = rng.choice(("female", "male"))
        child = age < 18
        names = {("female", True): GIRLS, ("male", True): BOYS, ("female", False): WOMEN}
        person = Person(
            ref=f"W{1001 + len(self.people)}",
            given=rng.choice(names.get((sex, child), MEN)),
            family=home.family or rng.choice(FAMILIES),
            born=DEMO_DAY - timedelta(days=int(age * 365.25)),
            sex=sex,
            home=home,
            story=story,
            risks=list(risks),
            gp=rng.choice(SURGERIES),
        )
        self.reach(person)
        self.people.append(person)
        return person

    def reach(self, person: Person) -> None:
        """Give a person the numbers and addresses that practices have of most people."""
        rng = self.rng
        if person.is_child:
            person.adult_relation = "parent" if rng.random() < 0.93 else "guardian"
        else:
            titles = ("Mrs", "Ms", "Miss", "Dr") if person.sex == "female" else ("Mr", "Mr", "Dr")
            person.title = rng.choice(titles)
        if not person.home.is_care_home and rng.random() < 0.75:
            person.mobile = self.mobile()
        if rng.random() < 0.4:
            person.email = (
                f"{plain(person.given)}.{plain(person.family)}.{person.ref[1:]}@example.org"
            )
        if rng.random() < 0.85:
            person.nhs_number = self.nhs()
        if person.age_on(DEMO_DAY) > 74 and rng.random() < 0.2:
            person.format = "large"


def plain(name: str) -> str:
    """Return a name in plain lower-case letters, for an e-mail address."""
    bare = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    return "".join(c for c in bare if c.isalpha()) or "post"

"""The people whom files get wrong: awkward names, twins, doubles, wrong numbers, the dead."""

from dataclasses import replace
from datetime import date, timedelta

from making import DEMO_DAY
from making.people import Person, Register

NAMES = (
    ("Seán", "O'Neil [/b]"),
    ("فاطمة", "الزهراء"),
    ("Llŷr", "Ŵynn-Gruffudd"),
    ("Ελένη", "Παπαδοπούλου"),
    ("Zażółć", "Gęślą-Jaźńska"),
    ("Sunny 🦻", "Daywell"),
    ("Ngọc Ánh", "Nguyễn"),
    ("Юлия", "Щербакова"),
    ("Anne-Marie", "de la Tour d'Escalier y Montesinos von Hohenlinden-Altberg"),
    ("X", "Ó"),
    ('Jo "Jojo"', "Smyth, the younger"),
    ("=Nathan", "@Null"),
    ("  Bram ", "van der  Spaces"),
    ("Dzhoni", "{{ letter.secret }}"),
    ("Siân", "#set-Hart *bold* _it_"),
)
"""Given and family names that trip up markup, spreadsheets, fonts and alphabets."""


def rename(people: list[Person]) -> None:
    """Give the awkward names to people spread over the register."""
    step = len(people) // (len(NAMES) + 1)
    for place, (given, family) in enumerate(NAMES, start=1):
        person = people[place * step]
        person.given, person.family = given, family
        person.home.lines = ("Lodge 3, “The Oaks”\nrear entrance", *person.home.lines[-1:])
        if person.is_child:
            person.home.adult = f"Ms Ann {family.strip()}"


def add_doubles(register: Register) -> None:
    """Add twins, a father and son of one name at one address, and a person entered twice."""
    first = register.add("fluid", (5, 6))
    second = replace(first, ref=f"W{1001 + len(register.people)}", risks=[])
    first.given, second.given = "Ada", "Ida"
    first.sex = second.sex = "female"
    second.nhs_number = register.nhs()
    register.people.append(second)
    father = register.add("wax", (58, 60))
    father.given, father.sex, father.title = "Thomas", "male", "Mr"
    son = register.add("wax", (31, 33))
    son.given, son.family, son.sex, son.title = "Thomas", father.family, "male", "Mr"
    son.home = father.home
    double = register.add("wax_once", (66, 68))
    twice = replace(double, ref=f"W{1001 + len(register.people)}", nhs_number="", email="")
    register.people.append(twice)


def spoil(people: list[Person]) -> None:
    """Put in the mistakes of real registers: digits, postcodes, empty addresses."""
    for person in people[17::83]:
        person.mobile = "07700 90012"
    for person in people[29::97]:
        person.mobile = "ask daughter"
    for person in people[41::101]:
        person.nhs_number = person.nhs_number[:-1] + "0" if person.nhs_number else "999 000 0000"
    for person in people[53::113]:
        person.home = replace(person.home, postcode="WF99 4C1")
    for person in people[61::149]:
        person.home = replace(person.home, lines=(), postcode="")
    for person in people[71::173]:
        person.email = "no email"


def mark_apart(people: list[Person]) -> None:
    """Mark those who died, those who objected, and those who read another language."""
    elderly = [p for p in people if p.age_on(DEMO_DAY) > 70]
    for place, person in enumerate(elderly[11::31]):
        person.deceased_on = DEMO_DAY - timedelta(days=20 + 67 * place)
    for person in people[83::211]:
        person.objected_on = DEMO_DAY - timedelta(weeks=27)
    for person in people[37::89]:
        person.language = "cy"


def add_bad_rows(register: Register) -> None:
    """Add people whose rows cannot land: no birth date's year, and a day still to come."""
    for born in (date(2062, 5, 4), DEMO_DAY + timedelta(weeks=19)):
        person = register.add("wax_once", (40, 60))
        person.born = born

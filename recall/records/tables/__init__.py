"""All tables of the register in one import, for the migrations' comparison and for callers."""

from recall.records.tables.base import Base
from recall.records.tables.contacts import Booking, BookingEvent, Contact, Referral, ReferralEvent
from recall.records.tables.dues import (
    Decision,
    Due,
    DueEvent,
    FollowUp,
    FollowUpDue,
    FollowUpEvent,
    LoosenedLine,
    MilderLine,
    Proposal,
)
from recall.records.tables.matters import Matter
from recall.records.tables.people import (
    AdultFor,
    ContactPoint,
    ImportRun,
    ImportSeen,
    Person,
    PersonKey,
    PersonRisk,
    Staff,
)
from recall.records.tables.post import Batch, Letter
from recall.records.tables.runs import (
    FailsafeFinding,
    FailsafeRun,
    History,
    HistoryHead,
    HistoryPayload,
    JobRun,
    ToPlan,
)
from recall.records.tables.visits import (
    Findings,
    LossTreated,
    Population,
    Protocol,
    ToldByOthers,
    UnderCare,
    Visit,
)

__all__ = [
    "AdultFor",
    "Base",
    "Batch",
    "Booking",
    "BookingEvent",
    "Contact",
    "Decision",
    "Due",
    "DueEvent",
    "FailsafeFinding",
    "FailsafeRun",
    "Findings",
    "FollowUp",
    "FollowUpDue",
    "FollowUpEvent",
    "History",
    "HistoryHead",
    "HistoryPayload",
    "ImportRun",
    "ImportSeen",
    "JobRun",
    "Letter",
    "LoosenedLine",
    "LossTreated",
    "Matter",
    "MilderLine",
    "Person",
    "PersonKey",
    "PersonRisk",
    "Population",
    "Proposal",
    "Protocol",
    "ContactPoint",
    "Referral",
    "ReferralEvent",
    "Staff",
    "ToPlan",
    "ToldByOthers",
    "UnderCare",
    "Visit",
]

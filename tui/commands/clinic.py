"""The rows of the table for visits, the course of the ears, the manager and the post."""

from __future__ import annotations

from tui.commands.kinds import Area, Command

CLINIC_AREAS: tuple[Area, ...] = (
    Area(
        "manager",
        "f6",
        "Register",
        "Who is overdue or lost, which referrals wait, the work ahead.",
        "tui.screens.manager:ManagerScreen",
    ),
    Area(
        "post",
        "f7",
        "Post",
        "The letters of the week: look at them, print, post.",
        "tui.screens.post:PostScreen",
    ),
    Area(
        "matters",
        "f8",
        "To see to",
        "Interpreters, complaints, incidents, messages: what is yours.",
        "tui.screens.matters:MattersScreen",
    ),
)

VISIT = (
    Command(
        "visit.both_clear",
        "c",
        "Both clear",
        "Write both ears as clear: asks what was found, really seen, and heard now.",
        1,
    ),
    Command(
        "visit.clear_except", "a", "Clear except", "Both clear but for the marked finding: type it."
    ),
    Command("visit.one_clear", "e", "This ear clear", "The same for the marked ear alone."),
    Command(
        "visit.digits",
        "0,1,2,3,4",
        "Answer",
        "Write an answer into the marked cell: 0 is what a healthy ear shows.",
        0,
        "app.nothing",
    ),
    Command(
        "visit.type",
        "enter",
        "Type",
        "Type into the marked cell: hearing, tympanogram, dates; else go on.",
        2,
    ),
    Command("visit.same", "equals_sign", "Same", "Write the same into the other ear."),
    Command("visit.blank", "backspace,delete,minus", "Not recorded", "Empty the marked cell."),
    Command("visit.said", "s", "Said", "Tick what the person said: pain, hearing, dizziness.", 3),
    Command(
        "visit.note", "n", "Note", "Write something down; it is searched for words of alarm.", 4
    ),
    Command("visit.category", "k", "Kind", "Set another kind of follow-up, and say why."),
    Command("visit.dates", "d", "Dates", "Change a date of the plan, and say why."),
    Command(
        "visit.strike",
        "x",
        "Strike out",
        "Strike out a line of the plan, for a reason of the list.",
    ),
    Command("visit.raise_line", "g", "Raise", "Make a line of the plan one step more urgent."),
    Command("visit.lower_line", "l", "Lower", "Make a line of the plan one step less urgent."),
    Command("visit.plan", "p", "Plan", "The whole plan, with reasons and sources.", 6),
    Command("visit.course", "v", "Course", "The course of both ears over the years.", 7),
    Command("visit.earlier", "o", "Earlier visit", "Put an earlier visit right, or void it."),
    Command("visit.undo", "u", "Undo", "Take back the last thing typed."),
    Command("visit.close", "ctrl+s,w", "Close visit", "Accept the plan and close the visit.", 5),
    Command("visit.jump", "j", "Go to", "Go to any finding by two letters of its name."),
    Command("visit.down", "down", "Down", "Mark the next finding."),
    Command("visit.up", "up", "Up", "Mark the finding before."),
    Command("visit.right_ear", "left", "Right ear", "Go to the right ear."),
    Command("visit.left_ear", "right", "Left ear", "Go to the left ear."),
    Command("visit.other_ear", "tab", "Other ear", "Go to the other ear."),
    Command("visit.first", "home", "First", "Mark the first finding."),
    Command("visit.last", "end", "Last", "Mark the last finding."),
    Command("visit.plan_down", "pagedown", "Plan down", "Scroll the plan down."),
    Command("visit.plan_up", "pageup", "Plan up", "Scroll the plan up."),
)

COURSE = (
    Command("course.visit", "n", "New visit", "Begin a visit of this person.", 1),
    Command(
        "course.back_in_time",
        "left",
        "Earlier",
        "Show the ears as they were known a year before.",
        2,
    ),
    Command("course.on_in_time", "right", "Later", "Go forward again.", 3),
    Command("course.hearing", "a", "Audiogram", "Draw the newest hearing tests, or go back.", 4),
    Command("course.down", "down", "Down", "Scroll down."),
    Command("course.up", "up", "Up", "Scroll up."),
)

MANAGER = (
    Command(
        "manager.overdue", "1", "Overdue", "Everybody past their latest day, booked or not.", 1
    ),
    Command("manager.lost", "2", "Lost", "Those for whom every contact step is used up.", 2),
    Command(
        "manager.referrals", "3", "Referrals", "Referrals to chase, and what is known of them.", 3
    ),
    Command("manager.failsafe", "4", "Failsafe", "What the last safety check found.", 4),
    Command(
        "manager.proposals",
        "5",
        "Proposals",
        "Dates that an adopted protocol would bring forward.",
        5,
    ),
    Command(
        "manager.ahead", "6", "Ahead", "The work of the coming weeks against what can be given.", 6
    ),
    Command(
        "manager.returns", "7", "Returns", "How many came back in time, by kind of follow-up.", 7
    ),
    Command("manager.jobs", "8", "Jobs", "The last run of every job, and the next."),
    Command("manager.rules", "9", "Rules", "What each rule asked for, and what came of it."),
    Command("manager.pick", "space", "Pick", "Pick the marked line, for a decision about several."),
    Command("manager.pick_all", "asterisk", "Pick all", "Pick every line of the list, or none."),
    Command(
        "manager.keep_trying",
        "k",
        "Keep trying",
        "Decide: a new round of contacts.",
        runs="screen.decide('keep_trying')",
    ),
    Command(
        "manager.hand_back",
        "h",
        "Hand back",
        "Decide: hand back to the GP, with a letter.",
        runs="screen.decide('hand_back')",
    ),
    Command(
        "manager.decline",
        "d",
        "Declines",
        "Decide: they decline, knowing what it is for.",
        runs="screen.decide('decline')",
    ),
    Command(
        "manager.transferred",
        "t",
        "Transferred",
        "Decide: cared for elsewhere, confirmed.",
        runs="screen.decide('transferred')",
    ),
    Command(
        "manager.other_reason",
        "o",
        "Close",
        "Decide: close for another reason, in words.",
        runs="screen.decide('other_reason')",
    ),
    Command(
        "manager.carry_on",
        "c",
        "Carry on",
        "Decide: looked at, goes on as it stands.",
        runs="screen.decide('carry_on')",
    ),
    Command(
        "manager.move", "m", "Move dates", "Decide: other dates.", runs="screen.decide('move')"
    ),
    Command("manager.sent", "s", "Sent", "The referral was sent.", runs="screen.known('sent')"),
    Command(
        "manager.accepted",
        "a",
        "Accepted",
        "The referral was accepted there, with a day where known.",
        runs="screen.known('accepted')",
    ),
    Command("manager.seen", "n", "Seen", "They were seen there.", runs="screen.known('seen')"),
    Command("manager.result", "r", "Result", "The result is back.", runs="screen.known('result')"),
    Command(
        "manager.rejected",
        "j",
        "Rejected",
        "The referral was rejected there.",
        runs="screen.known('rejected')",
    ),
    Command(
        "manager.unseen",
        "u",
        "Discharged",
        "Discharged there without being seen.",
        runs="screen.known('unseen')",
    ),
    Command(
        "manager.spoke",
        "p",
        "Spoke with",
        "Arranged by phone, with whom.",
        runs="screen.known('spoke')",
    ),
    Command("manager.letter", "l", "Letter", "The draft of the referral letter."),
    Command(
        "manager.end",
        "x",
        "End it",
        "Close the referral or finding for a reason, by name.",
        runs="screen.known('end')",
    ),
    Command(
        "manager.forward",
        "b",
        "Bring forward",
        "Take the earlier date that is proposed.",
        runs="screen.answer('yes')",
    ),
    Command(
        "manager.leave_it",
        "y",
        "Leave it",
        "Leave the date as it stands, and say why.",
        runs="screen.answer('no')",
    ),
    Command("manager.open", "enter", "Whole story", "Everything on the marked person."),
    Command("manager.export", "e", "Export", "Write what is on the screen into a CSV file."),
    Command("manager.next", "down", "Next", "Mark the next line."),
    Command("manager.previous", "up", "Previous", "Mark the line before."),
    Command("manager.page_down", "pagedown", "Page down", "Go one page down."),
    Command("manager.page_up", "pageup", "Page up", "Go one page up."),
    Command("manager.first", "home", "First", "Go to the first line."),
    Command("manager.last", "end", "Last", "Go to the last line."),
    Command("manager.again", "comma", "Look again", "Read the list again; the marked line stays."),
)

POST = (
    Command(
        "post.prepare",
        "a",
        "Prepare",
        "Write the letters of the week; no letter is ever written twice.",
        1,
    ),
    Command("post.read", "enter", "Read", "The letter as it will print.", 2),
    Command(
        "post.hold", "h", "Hold back", "Keep the marked letter out of the batch, and say why.", 3
    ),
    Command("post.release", "r", "Release", "Let a letter that was held back go.", 4),
    Command("post.print", "p", "Make PDF", "Make the file for the printer.", 5),
    Command("post.posted", "m", "Posted", "Say that the batch went into the post.", 6),
    Command("post.returned", "b", "Came back", "A posted letter came back.", 7),
    Command("post.earlier", "left", "Week before", "Look at the batch before."),
    Command("post.later", "right", "Week after", "Look at the next batch."),
    Command("post.open", "o", "Whole story", "Everything on the person of the marked letter."),
    Command("post.export", "e", "Export", "Write what is on the screen into a CSV file."),
    Command("post.next", "down", "Next", "Mark the next letter."),
    Command("post.previous", "up", "Previous", "Mark the letter before."),
    Command("post.page_down", "pagedown", "Page down", "Go one page down."),
    Command("post.page_up", "pageup", "Page up", "Go one page up."),
    Command("post.first", "home", "First", "Go to the first letter."),
    Command("post.last", "end", "Last", "Go to the last letter."),
    Command("post.again", "comma", "Look again", "Read the batch again."),
)

CLINIC_COMMANDS: tuple[Command, ...] = (*VISIT, *COURSE, *MANAGER, *POST)
CLINIC_TITLES = {
    "visit": "Visit",
    "course": "Course of the ears",
    "manager": "Register",
    "post": "Post",
}

"""`recall set-up` and `recall upgrade`."""

from __future__ import annotations

from pathlib import Path

import click

from recall.cli.shared.common import in_config, say, settings


@click.command("set-up")
@in_config
@click.option("--clinician", metavar="HANDLE", help="The first clinical lead, who may decide.")
@click.option("--name", help="Their name, as it is to be shown.")
def set_up(config: Path | None, clinician: str | None, name: str | None) -> None:
    """Make the database that recall.toml names, and the first clinician.

    Running it again changes nothing.
    """
    from recall.cli.practice.staff import add
    from recall.desk.core.rights import Role
    from recall.desk.core.session import StaffRow
    from recall.desk.practice.setting_up import set_up as make
    from recall.records.database.servers import shown

    practice = settings(config)
    done = make(practice)
    new = "made" if done.was is None else "ready"
    say(f"The database {shown(practice.files.database)} is {new}.")
    if clinician:
        add(practice, StaffRow(0, clinician, name or "", Role.CLINICAL_LEAD), None)
    if not practice.desk.sign_in:
        say(
            "A name alone is believed here: nobody is kept from acting as somebody else, and who "
            "looks at whom is not noted. recall staff password turns signing in on."
        )
    say("Next: recall import people.csv, then visits.csv. Add others with recall staff add.")


@click.command()
@in_config
def upgrade(config: Path | None) -> None:
    """Make the database, or bring an older one to this version after a backup.

    Close all desks first. Nothing is lost if it is stopped half way.
    """
    from recall.desk.practice.setting_up import set_up as make
    from recall.records.database.servers import shown

    practice = settings(config)
    done = make(practice)
    if done.was is None:
        say(f"Made a new database at {shown(practice.files.database)}.")
    elif done.was == done.now:
        say("The database fits this version; nothing was changed.")
    else:
        say(f"The database went from revision {done.was} to {done.now}; backup: {done.backup}.")

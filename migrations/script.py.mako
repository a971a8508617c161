"""${message}.

House rules: name every constraint (op.f); put CHECKs in by name; drop a named CHECK before
its column; use op.batch_alter_table for every change of a table; import nothing of recall,
data steps use their own sa.table(); write the step down; never cascade; add the revision to
REVISIONS in recall/records/database/where.py; rename = add, fill, drop, for
constraints carry the name.
"""

import sqlalchemy as sa
from alembic import op
${imports if imports else ""}
revision = ${repr(up_revision)}
down_revision = ${repr(down_revision)}
branch_labels = ${repr(branch_labels)}
depends_on = ${repr(depends_on)}


def upgrade() -> None:
    ${upgrades if upgrades else "pass"}


def downgrade() -> None:
    ${downgrades if downgrades else "pass"}

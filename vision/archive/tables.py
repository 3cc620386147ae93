"""The tables of an archive; rows are inserted and never changed or removed.

table     one row for
about     each thing known of the whole archive (format, when it was made)
payload   each text of format.py, under its SHA-256
entry     each kept version of an inspection
spring    each spring of an entry: what is searched and listed
hand      each hand reading of a spring
picture   each picture file of an entry

The columns of entry, spring and hand repeat what the payloads hold, so that it can be
searched; ``verify`` compares the two.
"""

from sqlalchemy import (
    DDL,
    CheckConstraint,
    Column,
    Float,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
    event,
)

METADATA = MetaData()

ABOUT = Table(
    "about",
    METADATA,
    Column("key", String(40), primary_key=True),
    Column("value", Text, nullable=False),
)

PAYLOAD = Table(
    "payload",
    METADATA,
    Column("sha256", String(64), primary_key=True),
    Column("text", Text, nullable=False),
)

ENTRY = Table(
    "entry",
    METADATA,
    Column("id", Integer, primary_key=True, autoincrement=False),
    Column("number", Integer, nullable=False),
    Column("version", Integer, nullable=False),
    Column("previous_id", ForeignKey("entry.id")),
    Column("change", String(20), nullable=False),
    Column("note", Text, nullable=False),
    Column("added_at", String(40), nullable=False),
    Column("program_version", Text, nullable=False),
    Column("job", Text, nullable=False),
    Column("job_key", Text, nullable=False, index=True),
    Column("engine", Text, nullable=False),
    Column("engine_key", Text, nullable=False, index=True),
    Column("started_at", String(40), nullable=False),  # UTC, for sorting
    Column("started_on", String(10), nullable=False, index=True),  # the local day
    Column("springs", Integer, nullable=False),
    Column("accepted", Integer, nullable=False),
    Column("rejected", Integer, nullable=False),
    Column("to_check", Integer, nullable=False),
    Column("still_due", Integer, nullable=False),
    Column("measured_sha256", ForeignKey("payload.sha256"), nullable=False, index=True),
    Column("judged_sha256", ForeignKey("payload.sha256"), nullable=False, index=True),
    UniqueConstraint("number", "version"),
    CheckConstraint("(version = 1) = (previous_id IS NULL)"),
)

SPRING = Table(
    "spring",
    METADATA,
    Column("entry_id", ForeignKey("entry.id"), primary_key=True),
    Column("position", Integer, primary_key=True),
    Column("place", Text, nullable=False),
    Column("place_key", Text, nullable=False, index=True),
    Column("place_text", Text, nullable=False),
    Column("kind", Text, nullable=False),
    Column("outcome", String(20), index=True),
    Column("unmeasured", String(20), nullable=False),
    Column("free_height_mm", Float(53)),
    Column("free_height_expanded_mm", Float(53)),
    Column("squareness_mm", Float(53)),
    Column("squareness_expanded_mm", Float(53)),
    Column("lean_deg", Float(53)),
    Column("lean_expanded_deg", Float(53)),
)

HAND = Table(
    "hand",
    METADATA,
    Column("entry_id", ForeignKey("entry.id"), primary_key=True),
    Column("position", Integer, primary_key=True),
    Column("ordinal", Integer, primary_key=True),
    Column("instrument", String(40), nullable=False),
    Column("value", Float(53), nullable=False),
    Column("unit", String(20), nullable=False),
    Column("expanded_uncertainty", Float(53), nullable=False),
    Column("set_height_mm", Float(53)),
    Column("assumed", Integer, nullable=False),
)

PICTURE = Table(
    "picture",
    METADATA,
    Column("entry_id", ForeignKey("entry.id"), primary_key=True),
    Column("ordinal", Integer, primary_key=True),
    Column("role", String(20), nullable=False),
    Column("name", Text, nullable=False),
    Column("sha256", String(64), nullable=False),
    Column("size_bytes", Integer, nullable=False),
    Index("picture_by_digest", "sha256"),
)

REFUSAL = "what is kept is never changed"

SQLITE_GUARD = """
CREATE TRIGGER {table}_no_{word} BEFORE {verb} ON {table}
BEGIN SELECT RAISE(ABORT, '{refusal}'); END
"""

POSTGRES_FUNCTION = """
CREATE OR REPLACE FUNCTION refuse_change() RETURNS trigger AS $$
BEGIN RAISE EXCEPTION '{refusal}'; END $$ LANGUAGE plpgsql
"""

POSTGRES_GUARD = """
CREATE TRIGGER {table}_kept BEFORE UPDATE OR DELETE ON {table}
FOR EACH ROW EXECUTE FUNCTION refuse_change()
"""


def _guard(table: Table) -> None:
    """Let the database itself refuse to change or remove a row of a table."""
    for verb in ("UPDATE", "DELETE"):
        text = SQLITE_GUARD.format(
            table=table.name, word=verb.lower(), verb=verb, refusal=REFUSAL
        )
        event.listen(table, "after_create", _only_on("sqlite", text))
    text = POSTGRES_GUARD.format(table=table.name)
    event.listen(table, "after_create", _only_on("postgresql", text))


def _only_on(dialect: str, text: str) -> DDL:
    """Make a statement that runs with one kind of database."""
    statement = DDL(text)  # type: ignore[no-untyped-call]
    return statement.execute_if(dialect=dialect)


event.listen(
    METADATA,
    "before_create",
    _only_on("postgresql", POSTGRES_FUNCTION.format(refusal=REFUSAL)),
)
for _table in METADATA.sorted_tables:
    _guard(_table)

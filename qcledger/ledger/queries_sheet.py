"""What stands on a session's run sheet, and which sheets are still at work."""

from sqlalchemy import Connection, Select, select

from qcledger.ledger.codec import with_fields
from qcledger.ledger.own import same_tester, supersedes
from qcledger.ledger.queries import void_sessions
from qcledger.ledger.readmodels import rows_equal
from qcledger.ledger.tables import DAYBOOK, TABLE
from qcledger.records import Observation, Session, Stage


def standing(connection: Connection, session: str) -> list[Observation]:
    """Return the observations of a session's trials that no other supersedes, in the order of their ids."""
    found = connection.execute(_current().where(TABLE["trial"].c.session == session)).mappings()
    return [with_fields(Observation, row) for row in found]


def stages(connection: Connection, session: str) -> dict[str, Stage]:
    """Return a session's stages by name; of two rows of one name that of the session's own tester stands."""
    stage, sitting = TABLE[Stage.TABLE], TABLE[Session.TABLE]
    own = same_tester(stage.c[DAYBOOK], sitting.c[DAYBOOK]).label("own")
    wanted = select(stage).join(sitting, sitting.c.id == stage.c.session).where(sitting.c.id == session)
    found = connection.execute(wanted.add_columns(own).order_by(own, stage.c.id)).mappings()
    return {row["name"]: with_fields(Stage, row) for row in found}


def before(connection: Connection, observation: Observation) -> Observation | None:
    """Return the observation that this one supersedes, or None."""
    older = rows_equal(connection, Observation, {"id": observation.supersedes}) if observation.supersedes else []
    return older[0] if older else None


def open_sessions(connection: Connection) -> list[Session]:
    """Return the sessions that are neither closed nor void, the latest first."""
    void = void_sessions(connection)
    found = [session for session in rows_equal(connection, Session, {"closed_at": None}) if session.id not in void]
    return sorted(found, key=lambda session: (session.started_at, session.id), reverse=True)


def _current() -> Select[tuple[object, ...]]:
    observation, trial = TABLE["observation"], TABLE["trial"]
    newer = observation.alias("newer")
    joined = observation.join(trial, trial.c.id == observation.c.trial).outerjoin(
        newer, supersedes(newer, observation)
    )
    return select(observation).select_from(joined).where(newer.c.id.is_(None)).order_by(observation.c.id)

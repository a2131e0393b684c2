"""How a refusal names a row whose own fields name nothing a tester knows: a trial by its specimen and session."""

from collections.abc import Callable
from typing import cast

from qcledger.ledger.codec import named
from qcledger.records import Record, Session, Specimen, Trial

Get = Callable[[str, str], Record | None]
"""Returns a row by its table and id, or None."""


def called(record: Record, get: Get) -> str:
    """Return a short name of a record for messages, as `codec.named` does, and never the id of a trial."""
    return f"{record.TABLE} {_trial(record, get)}" if isinstance(record, Trial) else named(record)


def specimen_of(trial: Trial, specimen: Specimen, get: Get) -> str:
    """Return a specimen's sticker; not in a blind session, where the message would stand beside its code."""
    session = _session(trial, get)
    return "the specimen" if session is not None and session.is_blind else specimen.sticker


def _trial(trial: Trial, get: Get) -> str:
    session = _session(trial, get)
    place = f"session {session.code}" if session is not None else str(trial.occasion)
    specimen = cast(Specimen | None, get(Specimen.TABLE, trial.specimen))
    blind = session is not None and session.is_blind
    return f"of {specimen.sticker} ({place})" if specimen is not None and not blind else f"({place})"


def _session(trial: Trial, get: Get) -> Session | None:
    return cast(Session | None, trial.session and get(Session.TABLE, trial.session))

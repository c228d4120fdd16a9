"""What every verb of the bench must do: record one line, undo it to the byte, or refuse it all."""

from __future__ import annotations

from bench_cases import WEDNESDAY, Desk, Run

from scheduler.record.journal import JournalLine, read_journal
from scheduler.record.snapshot import Snapshot
from scheduler.record.store import Store


def snapshot(desk: Desk) -> Snapshot:
    with Store(desk.store) as store:
        return store.snapshot()


def image(desk: Desk) -> str:
    with Store(desk.store) as store:
        return store.image()


def journal(desk: Desk) -> tuple[JournalLine, ...]:
    with Store(desk.store) as store:
        return read_journal(store)


def refused(desk: Desk, *words: str, status: int, now: str = WEDNESDAY) -> str:
    """What a command says that must fail and leave the record as it was."""
    before, lines = image(desk), len(journal(desk))
    run = desk(*words, now=now)
    assert run.status == status, run
    assert run.out == ""
    assert (image(desk), len(journal(desk))) == (before, lines)
    return run.err


def changes_nothing(desk: Desk, *words: str, now: str = WEDNESDAY) -> str:
    """What a command says that has nothing to record and leaves no line."""
    before, lines = image(desk), len(journal(desk))
    run = desk(*words, now=now)
    assert run.status == 0, run
    assert (image(desk), len(journal(desk))) == (before, lines)
    return run.out


def recorded(desk: Desk, *words: str, now: str = WEDNESDAY) -> Run:
    """What a command says that must write one line; undo takes it back to the byte.

    Taking that back in turn leaves the record as the command did.
    """
    before, lines = image(desk), len(journal(desk))
    run = desk(*words, now=now)
    assert run.status == 0, run
    assert len(journal(desk)) == lines + 1
    after = image(desk)
    assert after != before
    desk.did("undo", now=now)
    assert image(desk) == before
    desk.did("undo", str(journal(desk)[-1].line), now=now)
    assert image(desk) == after
    return run

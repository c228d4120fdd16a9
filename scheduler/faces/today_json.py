"""A day at the bench as JSON."""

from __future__ import annotations

from datetime import date, datetime

from scheduler.looks.today import Bench, Today
from scheduler.words.tuples import NamedTuple

Json = dict[str, object]


def today_json(day: Today) -> Json:
    """Return the day as documented JSON.

    Moments are ISO 8601 with their offset, dates ISO. Lists are in the order in which to do things.
    Keys: `at`; `who`: the person for whom alone it is, or null; `test` and `wait`: {board,
    specimens (stoutest first), rest, body_mm, command}; `take_off`: {board, specimens, command};
    `put_in`: {specimens, session, by, latest, late, command, boxes: [box, specimens] where known};
    `put_away` (into the cold, because no session takes it before it spoils): {specimens, place, by,
    command}; `take_out`: {specimens, since, look_at, out_by, overdue, session (null: not planned),
    command}; `session` (today's, or null), `beside` (other people's sessions at the same time) and
    `next_session`: {session, start, minutes, who (null: anybody's), take_off, mount: [{specimen,
    board, from_mm, to_mm, minutes, after, limp}], command, held (planned for it, but their slots
    stay taken today)}; `next_due`: {due, boards} or null; `worries`: {kind, names, text, command};
    `probes` (worth feeling before they are due): {room, specimens, boards, gain_days, session (for
    which their slots are wanted, and gain_days is 0; or null)}.
    """
    return {
        "at": day.at.isoformat(),
        "who": day.who,
        "test": [_plain(d) for d in day.test],
        "wait": [_plain(d) for d in day.wait],
        "take_off": [_plain(o) for o in day.off],
        "put_in": [_plain(p) for p in day.put_in],
        "put_away": [_plain(p) for p in day.put_away],
        "take_out": [_plain(t) for t in day.take_out],
        "session": _bench_json(day.bench),
        "beside": [_bench_json(bench) for bench in day.benches[1:]],
        "next_session": _bench_json(day.next_bench),
        "next_due": None if day.next_due is None else _plain(day.next_due),
        "worries": [_plain(w) for w in day.worries],
        "probes": [_plain(p) for p in day.probes],
    }


def _bench_json(bench: Bench | None) -> Json | None:
    if bench is None:
        return None
    found = _plain(bench)
    del found["off"]
    return found | {
        "take_off": [_plain(o) for o in bench.off],
        "mount": [_plain(s) for s in bench.mount],
    }


def _plain(entry: NamedTuple) -> Json:
    return {name: _value(value) for name, value in entry._asdict().items()}


def _value(value: object) -> object:
    if isinstance(value, (date, datetime)):
        return value.isoformat()
    return list(value) if isinstance(value, tuple) else value

"""What the rooms' air does to the work: rot, mould, grease, curled wings, and not knowing."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta

from scheduler.air.latest import Air
from scheduler.drying.answer import BoardAnswer, SpecimenAnswer
from scheduler.looks.dial_worries import believed_mean_pct, damp_by_dial, said_otherwise
from scheduler.looks.worry import Worry
from scheduler.view import View
from scheduler.words import wording
from scheduler.words.records import Room

_STILL = 0.1
"""Air that is worth less than this share of its days at 20 deg C and 50 % dries almost nothing."""

_DAY = timedelta(days=1)

_COMES_OFF = ("test it now", "take off")


def stalled_worries(view: View, boards: Sequence[BoardAnswer]) -> Iterator[Worry]:
    """Yield what rots instead of drying: it has hardly begun, and the air is measured and warm."""
    for b in boards:
        stalled = [s for s in b.specimens if _stalled(view, s)]
        if not stalled:
            continue
        air = stalled[0].air
        assert air is not None
        names = tuple(s.specimen for s in stalled)
        stout = [s.specimen for s in stalled if s.body_mm >= view.rules.limit("body_stout_mm")]
        hours = view.rules.limit("stalled_hours")
        text = (
            f"{wording.listed(names)} on {b.board}: next to nothing dried in {hours:g} h in {air},"
            " and they have hardly begun: a body rots before it dries. Act today: a dry room, the"
            " warm cabinet or desiccant"
        )
        if stout:
            text += f"; open and empty the very stout ({wording.listed(stout)})"
        yield Worry("stalled", names, text, f"wingrest move {b.board} ROOM")


def _stalled(view: View, s: SpecimenAnswer) -> bool:
    limit, now = view.rules.limit, view.now
    if s.air is None or s.air.how == "assumed" or s.answer == "take off":
        return False
    if s.air.temp_c is not None and s.air.temp_c < limit("stalled_warm_c"):
        return False
    before = now - timedelta(hours=limit("stalled_hours"))
    one = view.on_board(s.specimen)
    if one is None or one.placement.mounted_at > before:
        return False
    early = one.progress(now) < limit("stalled_progress_pct") / 100
    return early and one.worth(now) - one.worth(before) < _STILL * (now - before) / _DAY


def room_worries(view: View, boards: Sequence[BoardAnswer]) -> Iterator[Worry]:
    """Yield the worries about the air of every room in which something stands."""
    stands: dict[str, list[str]] = {}
    for b in boards:
        room = view.room_of(b.board)
        if room is None:
            text = f"Nobody has said in which room {b.board} stands"
            yield Worry("no air known", (b.board,), text, f"wingrest move {b.board} ROOM")
        else:
            stands.setdefault(room.room, []).append(b.board)
    for name, here in sorted(stands.items()):
        room = view.rooms[name]
        yield from _too_hot(view, room, here)
        if room.regime == "room":
            yield from _ordinary(view, room, here)
        yield from _silent(view, room)
        if view.air_now(room).never_read:
            yield from _by_feel(room, [b for b in boards if b.board in here])


def _ordinary(view: View, room: Room, boards: Sequence[str]) -> Iterator[Worry]:
    air = view.air_now(room)
    if air.rh_pct is None:
        text = f"The air of {room.room} is not known; {wording.listed(boards)} dry in it"
        yield Worry("no air known", (room.room,), text, f"wingrest air {room.room} RH")
        return
    mouldy = list(_mould_watch(view, room, boards))
    yield from mouldy or _damp(view, air, boards)
    yield from said_otherwise(view, room)
    yield from _too_cold(view, air, boards)
    yield from _swings(view, room, boards)


def too_damp_today(view: View, s: SpecimenAnswer) -> bool:
    """Say whether what is due or stiff stays on its board today, in air known to be too damp.

    Where nobody ever reads the air, what was said of it counts as known.
    """
    if s.air is None or s.answer != "dry, but not today":
        return False
    known = s.air.never_read or not s.air.unread
    return known and s.air.damper_than(view.rules.limit("take_off_rh_pct"))


def _by_feel(room: Room, boards: Sequence[BoardAnswer]) -> Iterator[Worry]:
    """Yield what a take-off rests on where nobody ever read the air."""
    every = [s for b in boards for s in b.specimens]
    if any(s.answer in _COMES_OFF for s in every):
        text = (
            f"Nobody ever read the air of {room.room}: take what is stiff there off only on a day "
            "that feels dry"
        )
        yield Worry("never read", (room.room,), text, f"wingrest air {room.room} RH")


def _damp(view: View, air: Air, boards: Sequence[str]) -> Iterator[Worry]:
    assert air.rh_pct is not None
    said = []
    if air.rh_pct > view.rules.limit("mould_rh_pct"):
        said.append("mould can grow")
    if air.rh_pct > view.rules.limit("take_off_rh_pct"):
        said.append("nothing should come off")
    if said:
        text = (
            f"{air.room} is damp, {air.said}: {wording.listed(said)}. Move "
            f"{wording.listed(boards)} into drier air"
        )
        yield Worry("room damp", (air.room,), text, f"wingrest move {boards[0]} ROOM")


def _mould_watch(view: View, room: Room, boards: Sequence[str]) -> Iterator[Worry]:
    known = view.room_air(room.room)
    hours, limit = (view.rules.limit(n) for n in ("mould_watch_hours", "mould_rh_pct"))
    mean = known and known.recent(view.wall(view.now), hours)
    if mean and mean.hours >= hours / 2:
        mean_pct: float | None = mean.rh_pct
        had = f"{room.room} had {mean.rh_pct:.3g} % over {hours / 24:g} days"
    else:
        mean_pct = believed_mean_pct(view, room, hours)
        had = damp_by_dial(room, mean_pct or 0.0, hours)
    if mean_pct is not None and mean_pct > limit:
        too_damp = mean_pct > view.rules.limit("take_off_rh_pct")
        nothing_off = " take nothing off," if too_damp else ""
        # Moving air: NPS. The mask: memory.
        text = (
            f"{had}, above {limit:g} %:{nothing_off} dry and move the air, look at"
            f" {wording.listed(boards)} for mould every day, with a mask where there is any"
        )
        yield Worry("mould watch", (room.room,), text, f"wingrest move {boards[0]} ROOM")


def _too_cold(view: View, air: Air, boards: Sequence[str]) -> Iterator[Worry]:
    """Yield a worry where warmth helps more than drying: the air is damp only as it is cold."""
    limit = view.rules.limit("mould_rh_pct")
    if air.rh_pct is None or air.counts_pct is None or air.temp_c is None:
        return
    if air.rh_pct <= limit < air.counts_pct:
        text = (
            f"{air.room} is too cold rather than damp, {air.said}: bring it towards 20 °C, or"
            f" {wording.listed(boards)} into a warmer room"
        )
        yield Worry("too cold", (air.room,), text, f"wingrest move {boards[0]} ROOM")


def _too_hot(view: View, room: Room, boards: Sequence[str]) -> Iterator[Worry]:
    limit, hottest = view.rules.limit("warm_below_c"), _hottest(view, room)
    if hottest is not None and hottest[0] >= limit:
        temp_c, at = hottest
        # Greasing: S1 p. 37; strips and foam: LEPS-L list post of 19 Jul 2001. Fire: common sense.
        text = (
            f"{room.room} had {temp_c:.3g} °C ({wording.moment(at, view.now)}), but it must stay "
            "below"
            f" {limit:g} °C: fat melts and greases the wings, waxed strips and foam warp, and a "
            f"fire may start. Turn it down, vent it, look at {wording.listed(boards)}"
        )
        yield Worry("too hot", (room.room,), text, f"wingrest air {room.room} RH TEMP")


def _hottest(view: View, room: Room) -> tuple[float, datetime] | None:
    """Return the highest temperature of the last hours, and when it was; None without any."""
    known = view.room_air(room.room)
    if known is None:
        return None
    now = view.wall(view.now)
    begin = now - timedelta(hours=view.rules.limit("take_off_window_hours"))
    found = [(temp, at) for at, _, temp in known.logged(begin, now) if temp is not None]
    dial = view.airs.last_dial(room.room, view.now)
    if dial and dial.temp_c is not None and view.wall(dial.read_at) >= begin:
        found.append((dial.temp_c, view.wall(dial.read_at)))
    return max(found, default=None)


def _swings(view: View, room: Room, boards: Sequence[str]) -> Iterator[Worry]:
    known = view.room_air(room.room)
    if known is None:
        return
    now = view.wall(view.now)
    begin = now - timedelta(hours=view.rules.limit("take_off_window_hours"))
    hours = [(at, rh) for at, rh, _ in known.logged(begin, now)]
    widest = (0.0, 0.0, 0.0)
    for index, (at, _) in enumerate(hours):
        day = [rh for later, rh in hours[index : index + 24] if later - at < _DAY]
        widest = max(widest, (max(day) - min(day), min(day), max(day)))
    if widest[0] > view.rules.limit("swing_rh_pct"):
        # Large swings curl wings, and curl them back: S17.
        text = (
            f"{room.room} swings from {widest[1]:.3g} to {widest[2]:.3g} % within a day: big"
            f" swings curl wings. Keep {wording.listed(boards)} away from window, heater and "
            "kitchen, or closed up"
        )
        yield Worry("wide swings", (room.room,), text, f"wingrest move {boards[0]} ROOM")


def _silent(view: View, room: Room) -> Iterator[Worry]:
    known = view.room_air(room.room)
    last = known and known.last_before(view.wall(view.now), "logger")
    if last and view.wall(view.now) - last > timedelta(days=view.rules.limit("silent_days")):
        text = (
            f"The last reading of {room.room}'s logger is of {wording.moment(last, view.now)}: "
            "read it out. Until then the days since count as expected, not as they were"
        )
        yield Worry("no readings", (room.room,), text, f"wingrest readings FILE --room {room.room}")

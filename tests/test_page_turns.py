"""Who taps goes first: a look waits for a tap that waits, and not for long."""

from __future__ import annotations

import threading
import time

from scheduler.page.turns import STAND_BACK_S, Turns


def test_a_look_waits_until_the_last_tap_is_recorded() -> None:
    turns, order = Turns(), []
    begun, may_end = threading.Event(), threading.Event()

    def tap() -> None:
        with turns.taken():
            begun.set()
            may_end.wait(5)
            order.append("tap")

    def look() -> None:
        turns.stand_back()
        order.append("look")

    first = threading.Thread(target=tap)
    first.start()
    assert begun.wait(5)
    second = threading.Thread(target=look)
    second.start()
    time.sleep(STAND_BACK_S / 6)
    assert order == []
    may_end.set()
    first.join(5)
    second.join(5)
    assert order == ["tap", "look"]


def test_a_look_waits_no_longer_than_that_however_long_they_tap() -> None:
    turns = Turns()
    with turns.taken():
        before = time.monotonic()
        turns.stand_back()
        assert time.monotonic() - before >= 0.9 * STAND_BACK_S


def test_where_nobody_taps_nobody_waits() -> None:
    turns = Turns()
    with turns.taken():
        pass
    before = time.monotonic()
    turns.stand_back()
    assert time.monotonic() - before < STAND_BACK_S / 2


def test_a_tap_that_fails_lets_the_looks_go_on() -> None:
    turns = Turns()
    try:
        with turns.taken():
            raise OSError("the disk is full")
    except OSError:
        pass
    before = time.monotonic()
    turns.stand_back()
    assert time.monotonic() - before < STAND_BACK_S / 2

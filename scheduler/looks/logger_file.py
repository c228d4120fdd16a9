"""A logger's file compared with the record, before any of it is recorded."""

from __future__ import annotations

from dataclasses import dataclass

from scheduler.intake.asking import Question
from scheduler.intake.readings import LoggerFile
from scheduler.intake.readings.merge import Tally
from scheduler.looks.moved import MovedDate
from scheduler.words.records import Room


@dataclass(frozen=True)
class ReadFile:
    """A file that was read and compared with the record; nothing of it is recorded yet.

    `tally` is what it changes for `logger`; `compared` says how it agrees with the room's other
    sensors; `moved` tells whose dates it will move.
    """

    room: Room
    logger: str
    found: LoggerFile
    tally: Tally
    questions: tuple[Question, ...]
    compared: tuple[str, ...] = ()
    moved: tuple[MovedDate, ...] = ()

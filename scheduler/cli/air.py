"""`wingrest air`: the air of a room, read off a dial; what a test found of its sensors."""

from __future__ import annotations

import click

from scheduler.cli.desk import Desk, at_option, say_outcome
from scheduler.cli.recording import recording
from scheduler.words.problems import BadInput


# A cold attic has -3 degrees: that must not be read as an option.
@click.command(context_settings={"ignore_unknown_options": True})
@click.argument("room", metavar="ROOM")
@click.argument("rh", metavar="[RH]", required=False)
@click.argument("temp", metavar="[TEMP]", required=False)
@click.option("--correct", metavar="POINTS", help="Add so many points to what its sensor says: +3.")
@click.option("--salt", metavar="RH", help="What its sensor read over damp table salt (75.5 %).")
@click.option(
    "--logger", metavar="NAME", help="The logger that counts, or the one that is corrected."
)
@at_option
@click.pass_obj
def command(
    desk: Desk,
    room: str,
    rh: str | None,
    temp: str | None,
    correct: str | None,
    salt: str | None,
    logger: str | None,
    at: str | None,
) -> None:
    """Record the air of a room, read off a dial.

    For example: air attic 68 19. RH is the relative humidity in %, TEMP the temperature in
    deg C.

    --correct adds so many points to what the room's sensor says, from --at on; --salt works them
    out from a salt test. --logger alone says which of several loggers counts ("damper": in each
    hour the damper one); with --correct it names the sensor ("dial": the one on the wall).
    """
    from scheduler.deeds import rooms, sensors

    asked = [o for o, v in (("RH", rh), ("--correct", correct), ("--salt", salt)) if v is not None]
    if len(asked) > 1 or (rh is not None and logger is not None):
        raise BadInput("give one of RH, --correct and --salt; --logger goes with the last two")
    with recording(desk, at) as (store, when):
        rules = desk.rules()
        if correct is not None:
            outcome = sensors.correct_sensor(store, rules, room, correct, when, logger)
        elif salt is not None:
            outcome = sensors.salt_test(store, rules, room, salt, when, logger)
        elif logger is not None:
            outcome = sensors.count_logger(store, rules, room, logger, when)
        elif rh is not None:
            outcome = rooms.read_dial(store, rules, room, rh, temp, when)
        else:
            raise BadInput(f"what about the air of {room}? Write air {room} RH [TEMP]")
    say_outcome(outcome)

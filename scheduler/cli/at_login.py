"""Files that make a computer start the server when its user logs in. Pure.

They are for systemd (Linux), launchd (macOS) and the task scheduler (Windows); none needs an
administrator.
"""

from __future__ import annotations

import plistlib
import subprocess
from collections.abc import Callable, Mapping, Sequence
from xml.sax.saxutils import escape

from scheduler.words.tuples import NamedTuple

AGENT_NAME = "wingrest.phones"
_WHAT = "wingrest: boards and calendar for the phones of this home network"

_TASK = """\
<?xml version="1.0" encoding="UTF-16"?>
<Task version="1.2" xmlns="http://schemas.microsoft.com/windows/2004/02/mit/task">
  <RegistrationInfo><Description>{what}</Description></RegistrationInfo>
  <Triggers><LogonTrigger><Enabled>true</Enabled></LogonTrigger></Triggers>
  <Settings>
    <MultipleInstancesPolicy>IgnoreNew</MultipleInstancesPolicy>
    <DisallowStartIfOnBatteries>false</DisallowStartIfOnBatteries>
    <StopIfGoingOnBatteries>false</StopIfGoingOnBatteries>
    <ExecutionTimeLimit>PT0S</ExecutionTimeLimit>
    <RestartOnFailure><Interval>PT1M</Interval><Count>10</Count></RestartOnFailure>
  </Settings>
  <Actions><Exec>
    <Command>{command}</Command>
    <Arguments>{arguments}</Arguments>
  </Exec></Actions>
</Task>
"""


class Starter(NamedTuple):
    """What starts programs at login: its file, where that belongs, what to run, how to end it."""

    made: Callable[[Sequence[str]], bytes]
    belongs: str
    run: tuple[str, ...]
    ends: str


def systemd_unit(words: Sequence[str]) -> bytes:
    """Return a unit for systemd's user manager that runs a command."""
    told = " ".join(_quoted_for_systemd(word) for word in words)
    text = (
        f"[Unit]\nDescription={_WHAT}\nAfter=network.target\n\n"
        f"[Service]\nExecStart={told}\nRestart=on-failure\nRestartSec=20\n\n"
        "[Install]\nWantedBy=default.target\n"
    )
    return text.encode()


def _quoted_for_systemd(word: str) -> str:
    # systemd.unit(5) and systemd.service(5): % names a specifier, $ a variable, \ an escape.
    for sign, put in (("\\", "\\\\"), ('"', '\\"'), ("%", "%%"), ("$", "$$")):
        word = word.replace(sign, put)
    return f'"{word}"'


def launchd_agent(words: Sequence[str]) -> bytes:
    """Return a property list for launchd that runs a command."""
    kept = {"SuccessfulExit": False}
    said = {
        "Label": AGENT_NAME,
        "ProgramArguments": list(words),
        "RunAtLoad": True,
        "KeepAlive": kept,
    }
    return plistlib.dumps(said)


def windows_task(words: Sequence[str]) -> bytes:
    """Return a task for Windows' scheduler that runs a command."""
    arguments = subprocess.list2cmdline(words[1:])
    text = _TASK.format(what=escape(_WHAT), command=escape(words[0]), arguments=escape(arguments))
    return text.replace("\n", "\r\n").encode("utf-16")


STARTERS: Mapping[str, Starter] = {
    "service": Starter(
        systemd_unit,
        "~/.config/systemd/user/wingrest.service",
        (
            "systemctl --user daemon-reload",
            "systemctl --user enable --now wingrest.service",
            "loginctl enable-linger   (only if it is to run before you log in)",
        ),
        "systemctl --user disable --now wingrest.service",
    ),
    "plist": Starter(
        launchd_agent,
        f"~/Library/LaunchAgents/{AGENT_NAME}.plist",
        (f"launchctl bootstrap gui/$(id -u) ~/Library/LaunchAgents/{AGENT_NAME}.plist",),
        f"launchctl bootout gui/$(id -u)/{AGENT_NAME}",
    ),
    "xml": Starter(
        windows_task,
        "any folder",
        (r'schtasks /Create /TN wingrest /XML "{file}"', "schtasks /Run /TN wingrest"),
        "schtasks /Delete /TN wingrest",
    ),
}
"""What starts programs, by the ending of the file's name."""

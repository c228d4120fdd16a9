"""`wingrest phone --at-login FILE`: a file for each system, read by that system's own readers."""

from __future__ import annotations

import configparser
import plistlib
import shlex
import shutil
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree

import pytest
from bench_cases import Desk

from scheduler.cli import main
from scheduler.cli.at_login import systemd_unit

TASK = "{http://schemas.microsoft.com/windows/2004/02/mit/task}"


def written(folder: Path, name: str, *words: str) -> Path:
    record = folder / "my record.sqlite"
    with pytest.raises(SystemExit) as left:
        main(["--store", str(record), "phone", "--at-login", str(folder / name), *words])
    assert left.value.code in (0, None)
    return folder / name


def serves(words: list[str], folder: Path, port: str) -> bool:
    return words == [
        sys.executable, "-m", "scheduler", "--store", str(folder / "my record.sqlite"),
        "serve", "--host", "0.0.0.0", "--port", port,
    ]  # fmt: skip


def test_a_unit_for_systemd(tmp_path: Path) -> None:
    unit = configparser.RawConfigParser()
    unit.optionxform = str  # type: ignore[assignment,method-assign]
    unit.read(written(tmp_path, "wingrest.service"))
    assert serves(shlex.split(unit["Service"]["ExecStart"]), tmp_path, "8033")
    assert unit["Install"]["WantedBy"] == "default.target"


def test_signs_that_mean_something_to_systemd_are_written_twice() -> None:
    unit = systemd_unit(["run", '50% of $HOME "here"'])
    assert b'ExecStart="run" "50%% of $$HOME \\"here\\""\n' in unit


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="no systemd here")
def test_systemd_itself_finds_nothing_wrong(tmp_path: Path) -> None:
    unit = written(tmp_path, "wingrest.service")
    said = subprocess.run(
        ["systemd-analyze", "verify", "--user", "--man=no", str(unit)],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert "wingrest.service" not in said.stderr


def test_an_agent_for_launchd(tmp_path: Path) -> None:
    said = plistlib.loads(written(tmp_path, "w.plist", "--port", "8040").read_bytes())
    assert serves(said["ProgramArguments"], tmp_path, "8040")
    assert said["RunAtLoad"] is True


def test_a_task_for_windows(tmp_path: Path) -> None:
    data = written(tmp_path, "w.xml").read_bytes()
    assert data.startswith(b"\xff\xfe")  # as its scheduler wants: UTF-16, with its mark
    task = ElementTree.fromstring(data)
    run = task.find(f"{TASK}Actions/{TASK}Exec")
    assert run is not None
    assert run.findtext(f"{TASK}Command") == sys.executable
    arguments = run.findtext(f"{TASK}Arguments")
    assert arguments
    assert serves([sys.executable, *shlex.split(arguments)], tmp_path, "8033")


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("w.txt",), ".service (Linux)"),
        (("w.plist", "--port", "0"), "another port each time"),
        (("no/such/w.plist",), "cannot be written"),
    ],
)
def test_what_would_not_start_is_refused(
    tmp_path: Path, words: tuple[str, ...], told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    file, *more = words
    record = tmp_path / "record.sqlite"
    with pytest.raises(SystemExit) as left:
        main(["--store", str(record), "phone", "--at-login", str(tmp_path / file), *more])
    assert left.value.code == 2
    assert told in " ".join(capsys.readouterr().err.split())
    assert not (tmp_path / file).exists()


def test_a_clock_that_stands_still_is_not_started_with_the_computer(tmp_path: Path) -> None:
    said = Desk(tmp_path / "record.sqlite")("phone", "--at-login", tmp_path / "w.service")
    assert said.status == 2
    assert "--now would stop" in said.problems

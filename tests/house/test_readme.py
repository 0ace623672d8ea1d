"""The README is true: its commands are the ones that are run, its output is what comes out."""

from __future__ import annotations

import importlib.util
import os
import re
import subprocess
import sys
from types import ModuleType

import pytest

from app.cli.texts import COMMANDS
from tests.house.tree import ROOT

README = (ROOT / "README.md").read_text(encoding="utf-8")
RUN = (ROOT / ".ci" / "run").read_text(encoding="utf-8")


def readme_commands() -> ModuleType:
    spec = importlib.util.spec_from_file_location(
        "readme_commands", ROOT / ".ci" / "readme_commands.py"
    )
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


COMMAND = readme_commands().commands(README)


class TestTwoCommands:
    @pytest.mark.parametrize("name", ["window", "tests"])
    def test_each_sets_itself_up(self, name: str) -> None:
        unix, windows = COMMAND[name]
        for command, python, scripts in (
            (unix, "python3", ".venv/bin/"),
            (windows, "py", ".venv\\Scripts\\"),
        ):
            first, second, *runs = command.split(" && ")
            assert first == f"{python} -m venv .venv"
            assert second.startswith(f"{scripts}pip install ")
            assert runs
            assert all(run.startswith(scripts) for run in runs)

    def test_what_they_end_in(self) -> None:
        assert COMMAND["window"][0].endswith("/runtrue sample_data/run_up.h5")
        # Between them every test, once.
        beside, alone = COMMAND["tests"][0].split(" && ")[2:]
        assert beside.endswith('/pytest -n 2 -m "not alone"')
        assert alone.endswith("/pytest -m alone")
        assert (ROOT / "sample_data" / "run_up.h5").is_file()

    @pytest.mark.parametrize("name", ["window", "tests"])
    def test_windows_does_the_same(self, name: str) -> None:
        unix, windows = COMMAND[name]
        translated = unix.replace(".venv/bin/", ".venv\\Scripts\\").replace("python3", "py")
        translated = translated.replace("sample_data/", "sample_data\\").replace("'", "")
        assert windows == translated

    def test_there_are_no_others(self) -> None:
        assert len(re.findall(r"^```\w", README, re.MULTILINE)) == 4

    def test_they_are_run_as_they_stand(self) -> None:
        for name in COMMAND:
            assert f"$(python3 .ci/readme_commands.py {name})" in RUN
        # No second spelling that could drift.
        assert ".venv/bin/pytest" not in RUN
        assert ".venv/bin/runtrue" not in RUN

    def test_a_readme_without_them_is_refused(self) -> None:
        with pytest.raises(LookupError):
            readme_commands().commands("\n## Open the sample\n\nnothing\n")
        doubled = README.replace("pytest -m alone\n", "pytest -m alone\nrm x\n")
        with pytest.raises(LookupError):
            readme_commands().commands(doubled)


def test_files_it_points_to_exist() -> None:
    links = re.findall(r"\]\(([^)]+)\)", README)
    assert links
    assert [link for link in links if not (ROOT / link).is_file()] == []
    samples = re.findall(r"`([\w.]+\.(?:h5|csv))`", README)
    assert [name for name in samples if not (ROOT / "sample_data" / name).is_file()] == []


def test_libraries_are_the_ones_that_are_installed() -> None:
    listed = {
        word
        for line in re.findall(r"^    apt install (.+)$", README, re.M)
        for word in line.split()
    }
    (packages,) = re.findall(r"^packages=\(([^)]+)\)", RUN, re.MULTILINE)
    assert listed == set(packages.split())


def test_keys_are_the_windows_own() -> None:
    from app.widgets.shortcuts import KEYS

    known = {key for entry in KEYS for key in entry.keys} | {"Shift", "Ctrl"}
    spelt = {"←": "Left", "→": "Right", "Page up": "PgUp", "Page down": "PgDown"}
    (table,) = re.findall(r"^\| key \| does \|\n((?:\|.*\n)+)", README, re.MULTILINE)
    # Examples of what is typed have a digit first.
    named = [word for word in re.findall(r"`([^`]+)`", table) if not word[0].isdigit()]
    assert len(named) > 12
    assert [word for word in named if spelt.get(word, word) not in known] == []


def shown() -> list[tuple[str, list[str]]]:
    """Calls in the README with the output shown below each."""
    calls: list[tuple[str, list[str]]] = []
    for line in README.splitlines():
        if line.startswith("    $ runtrue "):
            calls.append((line.removeprefix("    $ runtrue "), []))
        elif calls and (line.startswith("    ") or not line):
            calls[-1][1].append(line[4:])
        elif calls and line:
            calls.append(("", []))
    return [(call, output) for call, output in calls if call]


def test_calls_name_commands_that_exist() -> None:
    calls = [call.split()[0] for call, _ in shown()]
    assert sorted(calls) == sorted(COMMANDS)


@pytest.mark.parametrize("command", ["measure", "replay", "response"])
def test_the_output_shown_is_what_comes_out(command: str) -> None:
    (call, output) = next(item for item in shown() if item[0].startswith(command))
    wanted = "\n".join(output).rstrip().removesuffix("…").rstrip()
    assert len(wanted.splitlines()) > 5
    done = subprocess.run(
        [sys.executable, "-m", "app", *call.split()],
        cwd=ROOT,
        capture_output=True,
        encoding="utf-8",
        env={**os.environ, "PYTHONIOENCODING": "utf-8"},
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    printed = "\n".join(line.rstrip() for line in done.stdout.splitlines())
    assert printed.startswith(wanted)

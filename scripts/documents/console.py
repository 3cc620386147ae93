"""Commands and their output as a document shows them.

A block that begins with ```console holds one or more commands, each on a line that
begins with "$ ", followed by what it printed.
"""

import os
import re
import shlex
import subprocess
from dataclasses import dataclass
from pathlib import Path

BLOCK = re.compile(r"^```console\n(.*?)^```$", re.DOTALL | re.MULTILINE)
PROMPT = "$ "
REJECTED = 1  # exit code: something is rejected or undecided; above is failure


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """A command as it is shown, and its output."""

    command: str
    output: str


def find_commands(document: str) -> list[Shown]:
    """List the commands in their order."""
    return [one for block in BLOCK.findall(document) for one in _split(block)]


def _split(block: str) -> list[Shown]:
    parts = re.split(r"^\$ ", block, flags=re.MULTILINE)[1:]
    found = []
    for part in parts:
        lines = part.splitlines()
        count = 1
        while lines[count - 1].endswith("\\"):
            count += 1
        command = "\n".join(lines[:count])
        output = "\n".join(lines[count:]).strip("\n")
        found.append(Shown(command=command, output=output))
    return found


def run_command(command: str, folder: Path, program: Path) -> str:
    """Run one command of the program in a folder; give what it printed, trimmed."""
    words = shlex.split(command.replace("\\\n", " "))
    environment = {
        **os.environ,
        "COLUMNS": "80",
        "XDG_CONFIG_HOME": str(folder / "settings"),
    }
    ran = subprocess.run(
        [program, *words[1:]],
        cwd=folder,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    if ran.returncode > REJECTED:
        raise RuntimeError(f"{command}: exit code {ran.returncode}: {ran.stderr}")
    lines = (ran.stdout + ran.stderr).splitlines()
    return "\n".join(line.rstrip() for line in lines).strip("\n")


def replace_outputs(document: str, outputs: list[str]) -> str:
    """Write the document again with other outputs, one for each command."""
    remaining = iter(outputs)

    def renew(match: re.Match[str]) -> str:
        parts = []
        for shown in _split(match[1]):
            output = next(remaining)
            parts.append(f"{PROMPT}{shown.command}\n{output}".rstrip("\n") + "\n")
        return "```console\n" + "".join(parts) + "```"

    return BLOCK.sub(renew, document)

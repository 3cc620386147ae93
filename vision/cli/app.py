"""The command table; a command's module is imported only when it runs."""

import sys
from importlib import import_module
from typing import Any

import typer
from typer.core import TyperGroup
from typing_extensions import override

from calib.errors import MeasureError

COMMANDS = (
    "calibrate",
    "measure",
    "lens",
    "card",
    "spec",
    "add",
    "places",
    "findings",
    "readings",
    "judge",
    "list",
    "show",
    "find",
    "history",
    "verify",
    "export",
    "remeasure",
    "agreement",
    "sheet",
    "plot",
)
"""In the order of the work; each is the module of the same name in vision/cli."""

SHELL = frozenset({"install_completion", "show_completion"})
"""Options that belong to the program and not to each of its commands."""

UNUSABLE_INPUT = 3  # exit code: an input cannot be used


SYSTEM_LIBRARIES = (
    "Install it with: sudo apt-get install libgl1 libglib2.0-0 "
    "(on newer Debian libglib2.0-0t64)."
)


class CommandTable(TyperGroup):
    """Look a command's module up by its name."""

    @override
    def list_commands(self, ctx: Any) -> list[str]:
        """Name the commands in the order of the work."""
        return list(COMMANDS)

    @override
    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        """Import the command's module and make the command of it."""
        if cmd_name not in COMMANDS:
            return None
        module = import_module(f"vision.cli.{cmd_name}")
        command = typer.main.get_command(module.app)
        command.name = cmd_name
        command.help = _unwrap(command.help or "")
        command.params = [each for each in command.params if each.name not in SHELL]
        return command


def _unwrap(text: str) -> str:
    """Let each paragraph of a help text run, so that it fits any terminal."""
    return "\n\n".join(" ".join(part.split()) for part in text.split("\n\n"))


app = typer.Typer(
    cls=CommandTable, no_args_is_help=True, pretty_exceptions_enable=False
)


@app.callback()
def freestand() -> None:
    """Measure engine valve springs in photographs and judge them.

    Start with: freestand measure ROW.jpg --reference REF.toml --spec SPEC.toml
    """


def main() -> None:
    """Run the command line; an unusable input becomes one sentence and exit code 3."""
    try:
        app()
    except MeasureError as fault:
        _refuse(str(fault))
    except ImportError as fault:
        if not _names_a_system_library(fault):
            raise
        _refuse(f"opencv: {fault}. {SYSTEM_LIBRARIES}")


def _names_a_system_library(fault: ImportError) -> bool:
    """Tell a shared library that the system lacks from a missing Python module."""
    return ".so" in str(fault) and "cannot open shared object file" in str(fault)


def _refuse(sentence: str) -> None:
    sys.stderr.write(f"{sentence}\n")
    sys.exit(UNUSABLE_INPUT)

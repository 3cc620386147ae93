"""The command table; a command's module is imported only when it runs."""

import sys
from importlib import import_module
from typing import Any

from typing_extensions import override

import typer
from typer.core import TyperGroup

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

UNUSABLE_INPUT = 3  # exit code: an input cannot be used


class CommandTable(TyperGroup):
    """Look a command's module up by its name."""

    @override
    def list_commands(self, ctx: Any) -> list[str]:
        return list(COMMANDS)

    @override
    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        if cmd_name not in COMMANDS:
            return None
        module = import_module(f"vision.cli.{cmd_name}")
        command = typer.main.get_command(module.app)
        command.name = cmd_name
        return command


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
        sys.stderr.write(f"{fault}\n")
        sys.exit(UNUSABLE_INPUT)

"""The command line: parse, call, print.

Each command is a module of its own, imported when it is asked for; what takes time to import
waits inside the commands, so that ``fallsown --help`` answers at once.
"""

from __future__ import annotations

import errno
import os
import sys
import traceback
from importlib import import_module
from types import ModuleType
from typing import Any, NoReturn

import click

from simulator import __version__
from simulator.commands.examples import epilog
from simulator.commands.shared.field_options import located_in_file
from simulator.commands.shared.options import (
    ARGUMENTS,
    DEBUG_OPTION,
    DONE,
    HELP_NAMES,
    INPUT_FAULT,
    INTERRUPTED,
    OUR_FAULT,
    announce,
    debugging,
)
from simulator.problems import InputError, as_option, printable

# in the order in which --help shows them: the questions first, then what serves them
_COMMANDS = (
    "whatif",
    "season",
    "compare",
    "response",
    "budget",
    "timing",
    "cover",
    "why",
    "risk",
    "outlook",
    "sheet",
    "degreedays",
    "plots",
    "agree",
    "fit",
    "sensitivity",
    "design",
    "field",
    "check",
    "samples",
    "generate",
    "page",
)


# folders of those that do not stand in this one
_FOLDERS = {
    **dict.fromkeys(("agree", "design", "fit", "plots", "sensitivity"), "trials."),
    **dict.fromkeys(("check", "degreedays", "generate", "samples"), "weather."),
}


def module_of(command: str) -> ModuleType:
    """Import the module of a command."""
    return import_module(f"simulator.commands.{_FOLDERS.get(command, '')}{command}")


class Commands(click.Group):
    """A group whose commands are loaded on use and whose faults reach people as messages."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Names of the commands, in the order of help."""
        return list(_COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Load one command."""
        if cmd_name not in _COMMANDS:
            return None
        command: click.Command = module_of(cmd_name).command
        command.epilog = epilog(cmd_name)
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the command that is asked for; of a mistyped one, say what may be meant."""
        if args[0] not in _COMMANDS and not ctx.resilient_parsing:
            from difflib import get_close_matches

            name = args[0].lower().replace("-", "").replace("_", "")
            if close := get_close_matches(name, _COMMANDS, n=2):
                meant = " or ".join(f"'{one}'" for one in close)
                ctx.fail(f"No such command '{printable(args[0])[:40]}'. Did you mean {meant}?")
        return super().resolve_command(ctx, args)

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Keep the arguments as written, for the provenance of what is written."""
        ctx.meta[ARGUMENTS] = tuple(args)
        return super().parse_args(ctx, args)

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; a fault becomes a message on standard error and an exit code."""
        try:
            done = self._answer(ctx)
            if sys.stdout is not None:  # as where a shell closed it
                sys.stdout.flush()
            return done
        except (click.ClickException, click.exceptions.Exit, click.Abort):
            raise
        except InputError as error:
            _tell(ctx, located_in_file(error, ctx.meta).text(as_option), INPUT_FAULT)
        except BrokenPipeError:  # the reader of our output has gone, as `head` does
            os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
            ctx.exit(DONE)
        except KeyboardInterrupt:
            ctx.exit(INTERRUPTED)
        except Exception as error:
            if isinstance(error, OSError) and error.errno == errno.ENOSPC:
                os.dup2(os.open(os.devnull, os.O_WRONLY), 1)  # what is still to print has no place
                _tell(ctx, "The disk is full: the answer could not be written.", INPUT_FAULT)
            if isinstance(error, OSError) and error.errno in (errno.EMFILE, errno.ENFILE):
                _tell(ctx, f"{_TOO_FEW_HANDLES} (ulimit -n).", INPUT_FAULT)
            if isinstance(error, OSError) and not _working_folder():
                _tell(
                    ctx,
                    "The folder that you work in is gone: change to another, and give the "
                    "command again.",
                    INPUT_FAULT,
                )
            _tell(
                ctx,
                f"Sorry, fallsown failed by a fault of ours ({type(error).__name__}); "
                "run it again with --debug to see where.",
                OUR_FAULT,
            )

    def _answer(self, ctx: click.Context) -> Any:
        """Run the command, and again where compiled code on disk was an empty file."""
        try:
            return super().invoke(ctx)
        except EOFError:
            from simulator.season.cache_files import remove_empty

            if not remove_empty(announce):
                raise
        arguments = list(ctx.meta[ARGUMENTS])
        with self.make_context(ctx.info_name, arguments, parent=ctx.parent) as again:
            return super().invoke(again)


_TOO_FEW_HANDLES = "More files are open than this system allows: close some, or allow more"


def _working_folder() -> bool:
    try:
        os.getcwd()
    except OSError:
        return False
    return True


def _tell(ctx: click.Context, message: str, code: int) -> NoReturn:
    if debugging(ctx):
        click.echo(traceback.format_exc(), err=True)
    click.echo(message, err=True)
    ctx.exit(code)


@click.group(
    cls=Commands,
    context_settings={"help_option_names": HELP_NAMES, "max_content_width": 100},
    epilog="Without --weather a packaged sample of an invented place is used. "
    "'fallsown COMMAND --help' shows the options of a command.",
)
@DEBUG_OPTION
@click.version_option(__version__, prog_name="fallsown")
def fallsown() -> None:
    """Grow fall-sown winter cereals as cover crops, by the weather.

    Daily maximum and minimum temperature and rain go in; spring biomass, nitrogen and nitrate
    leached come out, for any sowing date, seeding rate, nitrogen plan and date of ending, in
    the weather as recorded or changed.
    """


def main() -> None:
    """Run the command line; the entry point of ``fallsown``."""
    for stream in (sys.stdout, sys.stderr):  # a terminal without ° shows ? and goes on
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    fallsown(prog_name="fallsown")

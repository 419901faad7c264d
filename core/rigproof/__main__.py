"""The command line. Imports click alone until a command is chosen, so that `--help` is there at once."""

from __future__ import annotations

import importlib
import os
import sys
import traceback
from contextlib import suppress

import click

from rigproof import __version__
from rigproof.errors import DocumentError, ExitCode, RigproofError, UsageError

# In the order a person meets them; the text is what `rigproof --help` shows.
COMMANDS = {
    "check": "Are the documents right, and can all be judged? With --connect each instrument answers.",
    "plan": "Expected values, tolerances and cautions, before any hardware.",
    "run": "Take the rig through its acceptance and give the verdict.",
    "judge": "Make the verdict again, from the journal alone.",
    "report": "Write the reports beside a verdict.",
    "verify": "Prove that a run's record was not changed.",
    "sign": "Put your signature under a run's record.",
    "diff": "What differs between two verdicts, in the units of the trade.",
    "flaws": "The defects that can be planted in the simulated rig.",
    "power": "How good a procedure is: what it finds, how small, how often it is wrong.",
    "bench": "Serve the simulated instruments over TCP on this machine.",
    "plugins": "What is installed and what it supplies.",
    "schema": "JSON Schema of a document or of the verdict.",
    "new": "Make a start: a driver, a step kind or a rig, with tests that pass.",
}


_HELP = "`rigproof COMMAND --help` shows what a command takes"


class Commands(click.Group):
    """Finds a command's module when it is called, not before."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """The names, in the order of a run."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command of that name; click itself suggests a near one."""
        if cmd_name not in COMMANDS:
            return None
        command: click.Command = importlib.import_module(f"rigproof.commands.{cmd_name}").command
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """The list, without importing any command."""
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


@click.command(cls=Commands, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, prog_name="rigproof")
def cli() -> None:
    """Scripted acceptance of strain-gauge installations and proof rigs.

    A RIG is a folder with rig.yaml and acceptance.yaml. Exit codes: 0 accept, 1 reject, 2 undecided, 3 void (also
    Ctrl-C), 4 the documents or the command are wrong, 5 a plugin is broken.
    """


def main() -> None:
    """Run the command line and leave with one of `ExitCode`."""
    sys.exit(run(sys.argv[1:]))


def run(arguments: list[str]) -> int:
    """Run one command line; returns the exit code.

    Errors become plain lines on standard error, never a traceback, and with `--json` a list on standard output too;
    an event where the command is `run`.
    """
    try:
        code = cli.main(args=arguments, prog_name="rigproof", standalone_mode=False)
    except click.exceptions.Exit as leaving:
        return leaving.exit_code
    except (BrokenPipeError, SystemExit):  # click leaves by SystemExit(1) when nobody reads its output any more
        silence()
        return ExitCode.VOID
    except (Exception, KeyboardInterrupt) as error:
        text, exit_code = _told(error)
        try:
            click.echo(text, err=True)
            if "--json" in arguments:
                click.echo(_as_json(error, text, exit_code, as_event=arguments[0] == "run"))
        except OSError:  # the terminal is gone: the exit code must still be no verdict
            silence()
        return exit_code
    return int(code) if isinstance(code, int) else ExitCode.ACCEPT


def silence() -> None:
    """Nobody reads what is written any more: whatever is still to come goes nowhere."""
    for stream in (sys.stdout, sys.stderr):
        with suppress(OSError, ValueError):
            os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())


def _told(error: BaseException) -> tuple[str, ExitCode]:
    """What a person reads of an error, and the exit code."""
    if isinstance(error, click.Abort | KeyboardInterrupt):
        return "stopped", ExitCode.VOID
    if isinstance(error, click.ClickException):
        return f"{error.format_message()}\n{_HELP}", ExitCode.WRONG_INPUT
    if isinstance(error, DocumentError):
        from rigproof.documents import describe

        return describe(error.faults), error.exit_code
    if isinstance(error, RigproofError):
        return str(error), error.exit_code
    from rigproof.plugins import broken_by

    if broken := broken_by(error):
        return broken, ExitCode.BROKEN_PLUGIN
    # A defect of ours: one line for the person, and never a code that is a verdict.
    where = traceback.extract_tb(error.__traceback__)[-1]
    return f"defect in rigproof: {type(error).__name__}: {error} ({where.filename}:{where.lineno})", ExitCode.VOID


def _as_json(error: BaseException, told: str, exit_code: int, as_event: bool) -> str:
    """The same as data: one object for each fault of a document, one for any other error."""
    import json

    faults = [{"place": "", "value": "", "rule": told, "remedy": ""}]
    if isinstance(error, click.ClickException):
        parameter = getattr(error, "param", None)
        named = getattr(error, "option_name", "") or (parameter.opts[0] if parameter else "")
        faults = [{"place": _on_command_line(named), "value": "", "rule": error.format_message(), "remedy": _HELP}]
    elif isinstance(error, UsageError):
        faults = [_of_usage(told)]
    elif isinstance(error, DocumentError):
        faults = [
            {"place": fault.place, "value": fault.value, "rule": fault.message, "remedy": fault.remedy}
            for fault in error.faults
        ]
    if as_event:
        return json.dumps({"event": "error", "exit_code": int(exit_code), "faults": faults}, ensure_ascii=False)
    return json.dumps(faults, indent=1, ensure_ascii=False)


def _of_usage(told: str) -> dict[str, str]:
    """Such a text reads `--option value: rule; remedy`, or names several options, or none; a remedy may be missing."""
    head, _, said = told.partition(": ") if told.startswith("--") else ("", "", told)
    option, _, value = (head, "", "") if head.count("--") > 1 else head.partition(" ")
    rule, _, remedy = said.rpartition("; ") if "; " in said else said.rpartition(". ")
    return {
        "place": _on_command_line(option),
        "value": value,
        "rule": rule or remedy,
        "remedy": remedy if rule else "",
    }


def _on_command_line(named: str) -> str:
    """The place of a fault: an option or argument, where it is known."""
    return f"command line: {named.rstrip(',')}" if named else "command line"


if __name__ == "__main__":
    main()

"""The command line. Imports click alone until a command is chosen, so that `--help` is there at once."""

from __future__ import annotations

import importlib
import sys

import click

from rigproof import __version__
from rigproof.errors import DocumentError, ExitCode, RigproofError

# In the order a person meets them; the text is what `rigproof --help` shows.
COMMANDS = {
    "check": "Documents, plugins and budgets resolve; with --connect each instrument answers.",
    "plan": "Expected values, tolerances and cautions, before any hardware.",
    "run": "Take the rig through its acceptance and give the verdict.",
    "judge": "Make the verdict again, from the journal alone.",
    "report": "Write the reports beside a verdict.",
    "verify": "Prove that a run's record was not changed.",
    "flaws": "The defects that can be planted in the simulated rig.",
    "bench": "Serve the simulated instruments over TCP on this machine.",
    "plugins": "What is installed and what it supplies.",
    "schema": "JSON Schema of a document or of the verdict.",
}


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
    """Run one command line; returns the exit code. Handled errors become plain lines on standard error."""
    try:
        code = cli.main(args=arguments, prog_name="rigproof", standalone_mode=False)
    except click.exceptions.Exit as leaving:
        return leaving.exit_code
    except click.ClickException as error:
        error.show()
        return ExitCode.WRONG_INPUT
    except (click.Abort, KeyboardInterrupt):
        click.echo("stopped", err=True)
        return ExitCode.VOID
    except DocumentError as error:
        from rigproof.documents import describe

        click.echo(describe(error.faults), err=True)
        return error.exit_code
    except RigproofError as error:
        click.echo(str(error), err=True)
        return error.exit_code
    return int(code) if isinstance(code, int) else ExitCode.ACCEPT


if __name__ == "__main__":
    main()

"""The command line: names, help and exit codes; other modules do the work."""

import importlib
import sys

import click

from measure import __version__, terminal

# name: (module, one line of help). The help is repeated here so that --help need not import any command.
COMMANDS: dict[str, tuple[str, str]] = {
    "locate": ("measure.commands.locate", "Find the reference card in a photo and describe its plane."),
    "span": ("measure.commands.span", "Give lengths between points of a photo, with their uncertainty."),
    "sheet": ("measure.commands.sheet", "Write, check, show and learn release sheets."),
    "note": ("measure.commands.note", "Note counts, traits, missing parts and remarks on a specimen."),
    "judge": ("measure.commands.judge", "Say which release a specimen and each of its parts belong to."),
    "desk": ("measure.commands.desk", "Measure on a page in the browser, on this computer only."),
    "write-up": ("measure.commands.write_up", "Write a specimen up: pictures, texts, HTML and PDF."),
    "target": ("measure.commands.target", "Write the printed target, a reference that may be half covered."),
    "camera": ("measure.commands.camera", "Learn a camera from photos of a board, for all later photos."),
    "demo": ("measure.commands.demo", "Run the whole job on the sample photos."),
}


class LazyGroup(click.Group):
    """A group that imports a command only when it is run."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names in the order of use."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import and return one command, or None where there is no such name."""
        if cmd_name not in COMMANDS:
            return None
        command = importlib.import_module(COMMANDS[cmd_name][0]).command
        assert isinstance(command, click.Command)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the commands without importing them."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, text) for name, (_, text) in COMMANDS.items()])


@click.group(cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="cardspan")
def cli() -> None:
    """Measure a toy in a photo beside a card of known size, and say which release it is.

    Lay a bank card, a trading card or a sheet of paper beside the part, photograph both from straight above,
    and start with:  cardspan locate PHOTO
    """


def _plainer(error: click.ClickException) -> click.ClickException:
    """Return the error in plain words, if a point was taken for an option."""
    if isinstance(error, click.NoSuchOption) and error.option_name[1:2].isdigit():
        text = "a point begins with a minus; give points inside the photo, x and y from 0 up"
        return click.UsageError(text, error.ctx)
    return error


def main() -> None:
    """Run the command line; a known error is one line on standard error and its exit code."""
    from measure.commands.common import ERRORS, exit_status

    terminal.guard()
    try:
        code = cli.main(standalone_mode=False)
    except click.exceptions.Abort:
        terminal.write_line("Stopped.", err=True)
        sys.exit(130)
    except click.ClickException as error:
        terminal.show_error(_plainer(error))
        sys.exit(error.exit_code)
    except ERRORS() as error:
        terminal.write_line(f"cardspan: {error}", err=True)
        sys.exit(exit_status(error))
    sys.exit(code if isinstance(code, int) else 0)

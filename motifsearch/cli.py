"""The command ``motifsearch``: its group, its version, and how errors end."""

from __future__ import annotations

import os
import sys
from contextlib import suppress
from typing import Any

import click

from motifsearch.base.errors import MotifError, shortened
from motifsearch.base.version import __version__
from motifsearch.commands.band import calibrate, cut, kits, stash
from motifsearch.commands.design import draw, letters, score, show, target, vary, worksheet
from motifsearch.commands.group import group
from motifsearch.commands.library import find, library
from motifsearch.commands.options import tell
from motifsearch.commands.picks import pick, taste
from motifsearch.commands.room import (
    change,
    paint,
    shelf,
    stash_add,
    stash_remove,
    stash_set,
    stash_skein,
)
from motifsearch.commands.run import chart, example, gallery, search
from motifsearch.commands.workshop import workshop


class MotifGroup(click.Group):
    """A group whose commands end with one message and an exit code, never a traceback."""

    def main(self, *args: Any, **kwargs: Any) -> Any:
        """Run the whole command; a full disk under the help text is one message too."""
        _open_streams()
        for stream in (sys.stdout, sys.stderr):
            # A terminal that lacks a letter of a name shows a mark for it.
            with suppress(AttributeError, ValueError, OSError):
                stream.reconfigure(errors="replace")  # type: ignore[union-attr]
        try:
            return super().main(*args, **kwargs)
        except OSError as bad:
            sys.stderr.write(f"motifsearch: {bad.strerror or bad}\n")
            sys.exit(1)

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; report our own errors as one message."""
        try:
            return super().invoke(ctx)
        except MotifError as bad:
            tell(f"motifsearch: {shortened(str(bad))}", err=True)
            ctx.exit(bad.exit_code)
        except BrokenPipeError:
            # The reader went away (a pager, head): nothing is wrong, but nothing can be said.
            with suppress(OSError, AttributeError, ValueError):
                os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            ctx.exit(1)
        except KeyboardInterrupt:
            click.echo("motifsearch: stopped.", err=True)
            ctx.exit(130)
        except OSError as bad:
            where = f"{bad.filename}: " if bad.filename else ""
            tell(f"motifsearch: {where}{bad.strerror or bad}", err=True)
            ctx.exit(1)


def _open_streams() -> None:
    """Give a stream that was closed by whoever started us somewhere to go.

    Python has none for it then, and the next file that is opened, such as a stash, would get the
    number of standard output.
    """
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        if getattr(sys, name) is None:
            setattr(sys, name, open(os.devnull, mode, encoding="utf-8"))  # noqa: SIM115


def _version(ctx: click.Context, param: click.Parameter, value: bool) -> None:
    if not value or ctx.resilient_parsing:
        return
    from importlib.metadata import PackageNotFoundError, version
    from platform import python_version

    click.echo(f"motifsearch {__version__} (Python {python_version()})")
    for name in ("numpy", "scipy", "deap", "moocore", "coloraide", "matplotlib", "reportlab"):
        try:
            click.echo(f"  {name} {version(name)}")
        except PackageNotFoundError:
            click.echo(f"  {name} is missing")
    ctx.exit()


@click.group(
    cls=MotifGroup,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 96},
)
@click.option(
    "--version",
    is_flag=True,
    is_eager=True,
    expose_value=False,
    callback=_version,
    help="Show the versions of the program and of what it computes with.",
)
def main() -> None:
    """Find designs for knotted friendship bracelets that your threads can really make.

    \b
    Start here:
      motifsearch example demo           writes a demo stash and briefs into demo/
      motifsearch search demo/only-my-threads.toml
                                         searches, and writes a gallery under results/
      motifsearch score PATTERN          scores of one design
      motifsearch cut PATTERN --length 150 --stash STASH
                                         what to cut, and from which piece

    A brief says what is wanted, a stash which threads are on hand, a pattern is one design; all
    are TOML files that can be edited by hand.
    """  # noqa: D301


for _command in (
    search,
    pick,
    taste,
    find,
    library,
    gallery,
    chart,
    example,
    score,
    show,
    draw,
    cut,
    worksheet,
    vary,
    group,
    target,
    letters,
    kits,
    stash,
    calibrate,
    change,
    paint,
    shelf,
    workshop,
):
    main.add_command(_command)
for _command in (stash_add, stash_set, stash_skein, stash_remove):
    stash.add_command(_command)


if __name__ == "__main__":
    main()

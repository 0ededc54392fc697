"""The command `phaseyard`: one file per command, one list.

Commands that only compute (`allocate`, `price`) need no database; `opened` opens it for the others.
`options` are what several share, `failure` is how one says no.
A bad input is one line on standard error that names the field, and exit code 2.
"""

import typer

from api.cli.allocate import allocate
from api.cli.books import books
from api.cli.demo import demo
from api.cli.key import key
from api.cli.person import person
from api.cli.price import price
from api.cli.serve import serve
from api.cli.simulate import simulate
from api.cli.site import site
from api.cli.statements import statements

app = typer.Typer(
    name="phaseyard",
    help="The back end for many electric cars that share one building's supply.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)

COMMANDS = (serve, demo, allocate, price, simulate)
GROUPS = {"books": books, "key": key, "person": person, "site": site, "statements": statements}

for command in COMMANDS:
    app.command()(command)
for name, group in GROUPS.items():
    app.add_typer(group, name=name)


def main() -> None:
    """Entry point of the console script."""
    app()

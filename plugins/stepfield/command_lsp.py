"""``stepfield lsp``: starts the language server. Only glue."""

from __future__ import annotations

import click


@click.command(short_help="Serve an editor while somebody writes.")
def lsp() -> None:
    """Run a language server on standard input and output: findings as you type, names, places, states and mends.

    An editor starts it; it needs the extra `lsp`.
    """
    try:
        from .lsp.server import make_server
    except ModuleNotFoundError as error:
        raise click.UsageError(
            f"the language server needs the extra 'lsp' (pip install 'stepfield[lsp]'): {error.name} is missing."
        ) from None
    make_server().start_io()

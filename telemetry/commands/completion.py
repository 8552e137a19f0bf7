"""``sidelong completion``: the text that lets a shell complete commands and options. The library shtab makes it."""

from __future__ import annotations

import argparse

from telemetry.errors import EXIT_OK, MissingPartError

SHELLS = ("bash", "zsh", "tcsh")


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("shell", choices=SHELLS, help="which shell")
    parser.epilog = (
        "For bash: sidelong completion bash > ~/.local/share/bash-completion/completions/sidelong\n"
        "For zsh:  sidelong completion zsh > a folder of $fpath, as _sidelong"
    )


def run(args: argparse.Namespace) -> int:
    import shtab

    print(shtab.complete(whole_parser(), shell=args.shell))
    return EXIT_OK


def whole_parser() -> argparse.ArgumentParser:
    """One parser with every command that is installed here, for whoever must know all words at once."""
    from telemetry.commands import ALL_COMMANDS, find

    whole = argparse.ArgumentParser(prog="sidelong")
    whole.add_argument("-V", "--version", action="store_true", help="say which version this is")
    commands = whole.add_subparsers(dest="command")
    for name, what in ALL_COMMANDS.items():
        try:
            module = find(name)
        except MissingPartError:
            continue
        module.arguments(commands.add_parser(name, help=what))
    return whole

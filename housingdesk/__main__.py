"""The entry point: a command goes to the command line, anything else opens the window."""

import sys
from collections.abc import Sequence
from pathlib import Path

from housingdesk import cli


def main(argv: Sequence[str] | None = None) -> int:
    """Run ``housingdesk``; return the exit code.  Qt is loaded only when the window opens."""
    args = list(sys.argv[1:] if argv is None else argv)
    if args and (args[0] in cli.COMMANDS or args[0].startswith("-")):
        return cli.main(args)
    if args and not Path(args[0]).exists():
        return cli.refuse(
            f"There is no file '{args[0]}', and no such command; the commands are {', '.join(cli.COMMANDS)}."
        )
    cli.keep_compiled_code()
    from housingdesk.ui.app import run

    return run(args[0] if args else None)


if __name__ == "__main__":
    sys.exit(main())

"""`python -m formulate`, and the command `formulate`: little is loaded before Ctrl-C is seen to."""

from typing import NoReturn

from formulate.cli.running import leave


def _commands(as_json: bool) -> int:
    from formulate.cli.main import run_command

    return run_command(as_json)


def main() -> NoReturn:
    """Run the command line and leave with its exit code."""
    leave(_commands)


if __name__ == "__main__":
    main()

"""A command line that can't be read, in the words and with the exit code of every other trouble."""

from __future__ import annotations

import errno
import re
from typing import Any

import typer

from kb.trouble import Place, Trouble, TroubleError
from render.cli.failure import INTERRUPTED

# What the library of the command line raises for any misuse of it: the base that its public
# exception has in common with all others.
_MISUSE: type[Any] = typer.BadParameter.__mro__[1]
_NEEDS = (
    (re.compile(r"^Value error, "), ""),
    (re.compile(r"Input should be a valid integer.*", re.DOTALL), "it has to be a whole number"),
    (re.compile(r"Input should be a valid number.*", re.DOTALL), "it has to be a number"),
    (re.compile(r"Input should be greater than or equal to ([\d.]+)"), r"it has to be \1 or more"),
    (re.compile(r"Input should be less than or equal to ([\d.]+)"), r"it has to be \1 at most"),
    (re.compile(r"Input should be.*", re.DOTALL), "it can't be that"),
    (re.compile(r"^Value '(.*)' is not a valid .*"), r"“\1” does not fit here"),
    (re.compile(r"'([^']*)'"), r"\1"),
)


def run(app: typer.Typer) -> None:
    """Run the command line to its end: SystemExit for another exit code than 0, TroubleError CL001
    where it can't be read, KeyboardInterrupt where it was interrupted, BrokenPipeError where nobody
    reads on."""
    try:
        code = app(prog_name="nextprobe", standalone_mode=False)
    except _MISUSE as wrong:
        if type(wrong).__name__ == "NoArgsIsHelpError":
            print(wrong.format_message())
            return
        raise TroubleError(_trouble(wrong)) from None
    except typer.Abort:
        raise KeyboardInterrupt from None
    except SystemExit as ended:
        cause = ended.__context__
        if isinstance(cause, OSError) and cause.errno == errno.EPIPE:
            raise BrokenPipeError from None
        raise
    if code == INTERRUPTED:
        raise KeyboardInterrupt
    if isinstance(code, int) and code:
        raise SystemExit(code)


def _trouble(wrong: Any) -> Trouble:
    command = wrong.ctx.command_path if wrong.ctx is not None else "nextprobe"
    param = getattr(wrong, "param", None)
    place, what, mend = command, wrong.format_message().rstrip("."), f"{command} --help says how"
    if isinstance(getattr(wrong, "option_name", None), str):
        likely = sorted(getattr(wrong, "possibilities", None) or ())
        place = wrong.option_name
        what = f"{command} has no such option" if "o such option" in wrong.message else "it " + (
            "takes no value" if "not take" in wrong.message else "wants a value after it"
        )
        mend = f"Did you mean {' or '.join(likely)}? {mend}" if likely else mend
    elif param is not None:
        place = max(param.opts, key=len) if param.param_type_name == "option" else _name(param)
        missing = type(wrong).__name__ == "MissingParameter"
        what = f"{command} wants it" if missing else _plain(wrong.message).rstrip(".")
    elif (unknown := re.match(r"No such command '(.*?)'", wrong.message)) is not None:
        place, what = unknown[1], "there is no such command"
        near = re.search(r"Did you mean (.*)\?", wrong.message)
        mend = (f"Did you mean {near[1]}? " if near else "").replace("'", "") + mend
    elif (extra := re.match(r"Got unexpected extra argument.*? \((.*)\)$", wrong.message)):
        place, what = extra[1], f"{command} has no use for it"
    return Trouble("CL001", Place(place), what, mend)


def _name(param: Any) -> str:
    return str(param.metavar or param.name).upper()


def _plain(message: str) -> str:
    for pattern, words in _NEEDS:
        message = pattern.sub(words, message)
    return message

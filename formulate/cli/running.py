"""From the first byte to the exit code: standard output that may be full, closed or cut off; Ctrl-C anywhere.

With `--json` what a command says is held until it ends, so that there is one document whatever happens.
"""

from __future__ import annotations

import contextlib
import io
import os
import re
import signal
import sys
from collections.abc import Callable
from typing import NoReturn, TextIO

__all__ = ["leave"]

AS_JSON = "--json"
DONE, OUR_FAULT, NOT_SAID, STOPPED, NOBODY_READS = 0, 1, 2, 130, 141
"""As `cli.telling` has them; 128 and the number of the signal for an interrupt and for a pipe that closed."""


_UNSEEN = re.compile(r"(?!\x1b\[[0-9;]*m)[\x00-\x09\x0b-\x1f\x7f-\x9f\u200e\u200f\u202a-\u202e\u2066-\u2069]")
"""What no report lays out on purpose: all that steers a terminal but ends of lines and colours."""


class AnswerLostError(Exception):
    """Standard output does not take the answer."""

    def __init__(self, code: int, why: str = "") -> None:
        self.code, self.why = code, why
        super().__init__(code, why)


class _Answer(io.StringIO):
    """Standard output that is written in one place, at every flush or, held, once at the end."""

    def __init__(self, stream: TextIO | None, *, held: bool) -> None:
        super().__init__()
        self.stream, self.held = stream, held

    @property
    def encoding(self) -> str:  # type: ignore[override]
        return getattr(self.stream, "encoding", None) or "utf-8"

    def isatty(self) -> bool:
        return self.stream is not None and self.stream.isatty()

    def fileno(self) -> int:
        if self.stream is None:
            raise io.UnsupportedOperation
        return self.stream.fileno()

    def flush(self) -> None:
        if not self.held:
            self.write_out()

    def write_out(self) -> None:
        """Hand on what was said so far.

        Raises
        ------
        AnswerLostError
            If standard output does not take it.
        """
        text = self.getvalue()
        if not text:
            return
        if _UNSEEN.search(text):
            from formulate.quantity.words import visible

            text = _UNSEEN.sub(lambda found: visible(found[0]), text)
        self.seek(0)
        self.truncate()
        if self.stream is None:
            raise AnswerLostError(NOT_SAID, "it is closed")
        try:
            self.stream.write(text)
            self.stream.flush()
        except BrokenPipeError:
            _say_no_more(self.stream)
            raise AnswerLostError(NOBODY_READS) from None
        except (OSError, ValueError) as error:
            _say_no_more(self.stream)
            raise AnswerLostError(NOT_SAID, getattr(error, "strerror", None) or "it is closed") from None


def _say_no_more(stream: TextIO) -> None:
    """Send what is still in the buffer nowhere: it would be tried again, and told of, at the very end."""
    with contextlib.suppress(OSError, ValueError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, stream.fileno())
        os.close(nowhere)


def _hold_standard_places() -> None:
    """Open what is closed of the three standard streams, lest a file that is written takes its number."""
    for number in range(3):
        try:
            os.fstat(number)
        except OSError:
            with contextlib.suppress(OSError):
                os.open(os.devnull, os.O_RDWR)


class _Stopping:
    """Minds that the person asked to stop, whatever becomes of the exception that says so."""

    def __init__(self) -> None:
        self.asked, self._before = False, signal.getsignal(signal.SIGINT)

    def __enter__(self) -> _Stopping:
        if self._before is signal.default_int_handler:
            with contextlib.suppress(ValueError):  # not the main thread: nobody stops it from here
                signal.signal(signal.SIGINT, self._ask)
        return self

    def __exit__(self, *_: object) -> None:
        if signal.getsignal(signal.SIGINT) == self._ask:
            signal.signal(signal.SIGINT, self._before)

    def _ask(self, *_: object) -> None:
        self.asked = True
        raise KeyboardInterrupt


def leave(command: Callable[[bool], int]) -> NoReturn:
    """Run the command line and leave with its exit code.

    Parameters
    ----------
    command : callable
        Told whether one document is asked for; returns the exit code.
    """
    _hold_standard_places()
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")  # an old console cannot show ±: better ? than no answer
    as_json = AS_JSON in sys.argv[1:]
    answer = _Answer(sys.stdout, held=as_json)
    with contextlib.redirect_stdout(answer), _Stopping() as stopping:
        code = _ended(command, answer, as_json=as_json)
        if stopping.asked and code != STOPPED:
            # Raised where Python swallows it, in the end of an object: the command went on.
            answer.seek(0)
            answer.truncate()
            code = _say_stopped(answer, as_json=as_json)
    try:
        answer.write_out()
    except AnswerLostError as lost:
        code = _tell_lost(lost)
    sys.exit(code)


def _ended(command: Callable[[bool], int], answer: _Answer, *, as_json: bool) -> int:
    """Run a command; return its exit code, whatever it ends with."""
    try:
        code = command(as_json)
    except AnswerLostError as lost:
        return _tell_lost(lost)
    except KeyboardInterrupt:
        code = STOPPED
    except Exception as error:
        if os.environ.get("FORMULATE_TRACE"):
            raise
        return _tell_fault(error, answer, as_json=as_json)
    return _say_stopped(answer, as_json=as_json) if code == STOPPED else code


def _say_stopped(answer: _Answer, *, as_json: bool) -> int:
    if as_json and not answer.getvalue().strip():
        answer.write(_document("stopped", "Stopped."))
    return STOPPED


def _tell_lost(lost: AnswerLostError) -> int:
    if lost.why and sys.stderr is not None:
        with contextlib.suppress(OSError, ValueError):
            print(f"The answer cannot be written to standard output: {lost.why}.", file=sys.stderr)  # noqa: T201
    return lost.code


def _tell_fault(error: Exception, answer: _Answer, *, as_json: bool) -> int:
    """Say that this is an error in the program, and where: enough to find it, and no trace."""
    place = error.__traceback__
    while place is not None and place.tb_next is not None:
        place = place.tb_next
    where = ""
    if place is not None:
        where = f" ({os.path.basename(place.tb_frame.f_code.co_filename)}:{place.tb_lineno})"
    said = (
        f"An error in the program, not in your files: {type(error).__name__}{where}. Please report it; "
        "FORMULATE_TRACE=1 before the command shows the way to it."
    )
    if as_json and not answer.getvalue().strip():
        answer.write(_document("failed", said))
    elif sys.stderr is not None:
        with contextlib.suppress(OSError, ValueError):
            print(said, file=sys.stderr)  # noqa: T201
    return OUR_FAULT


def _document(status: str, text: str) -> str:
    from formulate.report.document import dump, failed_document

    return f"{dump(failed_document(status, text))}\n"

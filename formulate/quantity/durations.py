"""Hours to text, as a cook reads a clock."""

from __future__ import annotations

__all__ = ["duration"]


def duration(time_h: float) -> str:
    """Write a time: minutes, hours and minutes, or days and hours.

    Parameters
    ----------
    time_h : float

    Returns
    -------
    str
        Such as ``35 min``, ``1 h 35``, ``4 d 2 h`` or ``10 days``.
    """
    minutes = round(time_h * 60.0)
    if minutes < 60:
        return f"{minutes} min"
    if minutes < 2880:
        hours, rest = divmod(minutes, 60)
        return f"{hours} h {rest:02d}" if rest else f"{hours} h"
    days, rest = divmod(round(minutes / 60), 24)
    return f"{days} d {rest} h" if rest else f"{days} days"

"""Results as a notebook shows them: the page of the result, in a frame of its own.

A notebook asks an object for `_repr_html_` (the display protocol of IPython).  Results lie below
this station and know nothing of pages, so they are taught here.
"""

from __future__ import annotations

from html import escape

from analyzer.comparison import Answer
from analyzer.report.formats import sheeting_written, written
from analyzer.sheeting import Sheeting

FRAME_HEIGHT = 760
"""Height of the frame in the notebook; what is longer scrolls within it. [px]"""


def frame_of(result: Answer | Sheeting) -> str:
    """Return HTML that shows the page of a result.

    The page is quoted whole into a frame without rights: no script runs in it, and neither its
    styles nor a layer's name can reach the notebook.

    Parameters
    ----------
    result : Answer or Sheeting

    Returns
    -------
    str
        One `iframe` element.
    """
    if isinstance(result, Sheeting):
        page, name = sheeting_written(result, "html"), result.path.name
    else:
        page, name = written("check", result, "html"), result.analysis.drawing.file
    quoted = escape(page.decode("utf-8"), quote=True)
    return (
        f'<iframe sandbox="" title="{escape(name, quote=True)}" srcdoc="{quoted}"'
        f' style="width: 100%; height: {FRAME_HEIGHT}px; border: 0"></iframe>'
    )


def teach() -> None:
    """Let notebooks show answers and sheets."""
    for result in (Answer, Sheeting):
        setattr(result, "_repr_html_", frame_of)  # noqa: B010  # not declared: see above

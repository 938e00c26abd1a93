"""Results as a notebook shows them: the page of the result, in a frame of its own.

A notebook asks an object for `_repr_html_` (the display protocol of IPython).  Results lie below
this station and know nothing of pages, so they are taught here; sheets only where somebody asks
for sheets, so that asking for answers does not import their stations.
"""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

from analyzer.comparison import Answer

if TYPE_CHECKING:
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
    from analyzer.report.formats import sheeting_written, written

    if isinstance(result, Answer):
        page, name = written("check", result, "html"), result.analysis.drawing.file
    else:
        page, name = sheeting_written(result, "html"), result.path.name
    quoted = escape(page.decode("utf-8"), quote=True)
    return (
        f'<iframe sandbox="" title="{escape(name, quote=True)}" srcdoc="{quoted}"'
        f' style="width: 100%; height: {FRAME_HEIGHT}px; border: 0"></iframe>'
    )


def teach_answers() -> None:
    """Let notebooks show answers."""
    setattr(Answer, "_repr_html_", frame_of)  # noqa: B010  # not declared: see above


def teach_sheets() -> None:
    """Let notebooks show sheets."""
    from analyzer.sheeting import Sheeting

    setattr(Sheeting, "_repr_html_", frame_of)  # noqa: B010

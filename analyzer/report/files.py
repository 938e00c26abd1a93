"""Output files: written whole or not at all, and never over an existing one unless asked."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterable, Sequence
from pathlib import Path

from analyzer.errors import InputError
from analyzer.report.temporary import MOVES_OPEN, temporary


def target_of(folder: Path, drawing: Path, form: str) -> Path:
    """Return the file that holds the answer for `drawing`: <stem>.<format> in `folder`."""
    return folder / f"{drawing.stem}.{form}"


def check_targets(
    folder: Path, drawings: Sequence[Path], formats: Iterable[str], *, force: bool
) -> None:
    """Refuse before any work what could not be written.

    Raises
    ------
    InputError
        If two drawings would give one file, a file is there already, or it is the drawing.
    """
    if folder.exists() and not folder.is_dir():
        raise InputError(f"{folder} is a file", hint="give a folder with --out")
    made: dict[str, Path] = {}
    for drawing in drawings:
        for form in dict.fromkeys(formats):
            target = target_of(folder, drawing, form)
            other = made.setdefault(str(target), drawing)
            if other is not drawing:
                raise InputError(
                    f"{other} and {drawing} would both be written to {target}",
                    hint="check them in two runs with different folders",
                )
            _check_target(target, drawings, force=force)


def check_new(targets: Sequence[Path], read: Iterable[Path], *, force: bool) -> None:
    """Refuse all files of one run before the first of them is written.

    Parameters
    ----------
    targets : sequence of Path
        The files to be written.
    read : iterable of Path
        Files the run was made from: never replaced, whatever is asked for.
    force : bool
        Whether other files may be replaced.

    Raises
    ------
    InputError
        If two would have one name, a file is there already, or it was read.
    """
    sources = list(read)
    seen: set[str] = set()
    for target in targets:
        if str(target) in seen:
            raise InputError(
                f"two files would both be called {target}", hint="write them in two runs"
            )
        seen.add(str(target))
        _check_target(target, sources, force=force)


def _check_target(target: Path, read: Sequence[Path], *, force: bool) -> None:
    """Refuse a file that was read, or that is there already."""
    if os.path.lexists(target) and any(_same(target, one) for one in read):
        raise InputError(f"{target} is a drawing itself", hint="give another folder")
    if not force:
        _refuse_existing(target)


def _same(target: Path, drawing: Path) -> bool:
    with contextlib.suppress(OSError):
        return target.samefile(drawing)
    return False


def _refuse_existing(target: Path) -> None:
    if os.path.lexists(target):
        raise InputError(f"{target} is there already", hint="add --force to replace it")


def write_whole(target: Path, content: str | bytes, *, force: bool = False) -> None:
    """Write `content` to `target` in one step; as `write_pieces`."""
    write_pieces(target, [content], force=force)


def write_pieces(target: Path, pieces: Iterable[str | bytes], *, force: bool = False) -> None:
    """Write pieces to `target` in one step.

    They go to a file beside it first, reach the disk, and only then take the name; a link at
    `target` is replaced, never followed.

    Raises
    ------
    InputError
        If the file cannot be written, or is there already and `force` is not given.
    """
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        with temporary(target.parent) as (file, name):
            for piece in pieces:
                file.write(piece.encode() if isinstance(piece, str) else piece)
            file.flush()
            os.fsync(file.fileno())
            umask = os.umask(0)
            os.umask(umask)
            os.chmod(name, 0o666 & ~umask)
            if not MOVES_OPEN:
                file.close()
            _take_name(name, target, force=force)
    except OSError as error:
        raise _cannot(target, error) from error


def _take_name(name: str, target: Path, *, force: bool) -> None:
    if force:
        os.replace(name, target)
        return
    try:
        os.link(name, target)  # fails where the name is taken, without a gap to race in
    except FileExistsError:
        _refuse_existing(target)
    except OSError:  # a file system without hard links
        _refuse_existing(target)
        os.replace(name, target)


def _cannot(target: Path, error: OSError) -> InputError:
    return InputError(
        f"cannot write: {error.strerror or error}", where=str(target), hint="give another folder"
    )

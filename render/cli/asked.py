"""The options that say what a plan is for, the same for every command that makes one."""

from __future__ import annotations

import functools
import inspect
import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Concatenate, ParamSpec

from render.cli.options import (
    Complaint,
    Depth,
    DepthOption,
    Kb,
    Mains,
    MainsOption,
    ModelFile,
    TopologyOrModel,
    Traced,
    Values,
    With,
    Without,
)

_Own = ParamSpec("_Own")


@dataclass(frozen=True, slots=True)
class Request:
    """Which unit, on which mains, how far, and what the shop has of its own, as it was told."""

    topology: str | None
    mains: Mains
    depth: Depth
    complaint: str | None
    kb: Path | None
    without: tuple[str, ...]
    model: Path | None
    values: tuple[str, ...] = ()
    having: tuple[str, ...] = ()
    traced: tuple[str, ...] = ()


def _request(
    topology: TopologyOrModel = None,
    mains: MainsOption = Mains.EUROPE,
    depth: DepthOption = Depth.PART,
    complaint: Complaint = None,
    kb: Kb = None,
    with_: With = None,
    without: Without = None,
    traced: Traced = None,
    model: ModelFile = None,
    value: Values = None,
) -> Request:
    return Request(
        _topology(topology, kb), mains, depth, _complaint(complaint, kb), kb,
        tuple(without or ()), model, tuple(value or ()), tuple(with_ or ()), tuple(traced or ()),
    )  # fmt: skip


def _topology(name: str | None, kb: Path | None) -> str | None:
    """The topology whose name is the one typed, capitals, spaces and hyphens aside."""
    if name is None or name == _fold(name):
        return name
    from engine import library

    folders = (kb,) if kb else ()
    names = (note.id for note in (*library.topologies(folders), *library.unopened(folders)))
    return next((one for one in names if _fold(one) == _fold(name)), name)


def _complaint(name: str | None, kb: Path | None) -> str | None:
    """As `_topology`, for each of several."""
    if name is None or name == _fold(name):
        return name
    from engine.model.complaints import as_one, complaints_of
    from kb.language import loader

    names = {_fold(one): one for one in loader.read((kb,) if kb else ()).complaints}
    return as_one(names.get(_fold(one), one) for one in complaints_of(name))


def _fold(name: str) -> str:
    return re.sub(r"[\s_-]+", "-", name.strip().casefold())


def asking(command: Callable[Concatenate[Request, _Own], None]) -> Callable[..., None]:
    """A command with the options of `Asked` before its own; it gets them as one record.

    Typer reads a command's options off its signature, so the signature is as_one here.
    """
    options = inspect.signature(_request, eval_str=True).parameters
    own = list(inspect.signature(command, eval_str=True).parameters.values())[1:]

    @functools.wraps(command)
    def run(**values: Any) -> None:
        request = _request(**{name: values.pop(name) for name in options})
        command(request, **values)  # type: ignore[call-arg]

    parameters = [p.replace(kind=inspect.Parameter.KEYWORD_ONLY) for p in (*options.values(), *own)]
    run.__signature__ = inspect.Signature(parameters)  # type: ignore[attr-defined]
    run.__annotations__ = {parameter.name: parameter.annotation for parameter in parameters}
    return run

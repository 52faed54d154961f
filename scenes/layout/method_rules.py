"""Which parts of a set-up go together: a base, a line, a spindle, a prism."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from .context import Context
from .schema_setups import SetupKeys
from .strict_yaml import Block

__all__ = ["has_line", "parts_go_together"]


class _Clash(NamedTuple):
    """Two parts that exclude each other: where the message stands, and what it says."""

    path: tuple[str, ...]
    message: str
    advice: str


def has_line(entry: SetupKeys) -> bool:
    """Whether something in the set-up says that its beam is a line, not turned by a base."""
    emitter = entry.emitter
    ways = (emitter.aim, emitter.in_front_of, emitter.in_, entry.near, entry.far, entry.prism)
    return entry.turned_by is None and any(way is not None for way in ways)


def parts_go_together(entry: SetupKeys, raw: Block, context: Context) -> bool:
    """Whether the parts of a set-up suit each other; the first clash of each kind is reported."""
    rules = (_of_base(entry), _of_line(entry), _of_ends(entry), _of_prism(entry), _of_batches(entry))
    clashes = [clash for rule in rules for clash in list(rule)[:1]]
    for clash in clashes:
        block = raw
        for step in clash.path[:-1]:
            block = block[step]
        context.say(block.keys_at.get(clash.path[-1], block.place), clash.message, clash.advice)
    return not clashes


def _of_base(entry: SetupKeys) -> Iterator[_Clash]:
    if entry.turned_by is None:
        return
    emitter = entry.emitter
    for key, way in {"aim": emitter.aim, "in front of": emitter.in_front_of, "in": emitter.in_}.items():
        if way is not None:
            message = f"a base turns the beam to every station, so '{key}' cannot say where it goes"
            yield _Clash(("emitter", key), message, f"remove turned by, or {key}")
    for key, end in (("near", entry.near), ("far", entry.far)):
        if end is not None:
            message = f"a base turns the beam to every station; '{key}' marks the end of a straight line"
            yield _Clash((key,), message, f"remove turned by, or {key}")
    if entry.prism is not None:
        message = "a set-up has either a base or a prism: both sweep a plane of their own"
        yield _Clash(("prism",), message, "remove turned by, or prism")
    if entry.through is not None:
        message = "a base turns the beam from station to station, so no targets stand in it at once"
        yield _Clash(("through",), message, "remove turned by, or through")
    if entry.reversed and entry.level_by != "vial":
        message = "a base is not reversed; only its vial is"
        yield _Clash(("reversed",), message, "remove reversed, or write level by: vial")


def _of_line(entry: SetupKeys) -> Iterator[_Clash]:
    if not has_line(entry):
        return
    if entry.level_by is not None and entry.level_by != "vial":
        message = "stations set a plane that a base sweeps; this beam is a line"
        yield _Clash(("level by",), message, "remove level by, or add turned by: ...")
    emitter = entry.emitter
    if emitter.in_ is not None:
        parts = {"near": entry.near, "far": entry.far, "prism": entry.prism, "through": entry.through}
        for key, part in parts.items():
            if part is not None:
                yield _Clash((key,), f"an emitter that turns in a spindle has no '{key}'", f"remove {key}")
        if entry.reversed:
            message = "a spindle turns the emitter; nothing else is reversed"
            yield _Clash(("reversed",), message, "name turns under clock")
    elif emitter.aim is None and emitter.in_front_of is None and entry.near is None and entry.far is None:
        message = "the beam is a line, but nothing says where it goes"
        yield _Clash(("emitter",), message, "add aim: +x to the emitter, or near and far to the set-up")


def _of_ends(entry: SetupKeys) -> Iterator[_Clash]:
    present = [key for key, value in (("near", entry.near), ("far", entry.far)) if value is not None]
    if len(present) == 1:
        other = "far" if present[0] == "near" else "near"
        yield _Clash((present[0],), f"'{present[0]}' alone marks no line", f"add {other}")
    elif present and isinstance(entry.near, str) != isinstance(entry.far, str):
        message = "near and far are either two stations or two targets that stand in the beam"
        yield _Clash(("far",), message, "write both in the same way")
    elif present and isinstance(entry.near, str) and entry.near == entry.far:
        yield _Clash(("far",), "near and far are the same station, which marks no line", "name another one")
    elif present and not isinstance(entry.near, str) and not isinstance(entry.far, str):
        assert entry.near is not None
        assert entry.far is not None
        if entry.near.at.along_beam >= entry.far.at.along_beam:
            yield _Clash(("far",), "the far target stands nearer to the emitter than the near one", "exchange them")


def _of_prism(entry: SetupKeys) -> Iterator[_Clash]:
    prism = entry.prism
    if prism is None:
        return
    if prism.turned is not None and prism.toward is not None:
        message = "the prism has both turned and toward, which say the same"
        yield _Clash(("prism", "toward"), message, "keep one of them")
    for key, said in (("turned", prism.turned is not None), ("toward", prism.toward is not None)):
        if prism.sweeps and said:
            message = f"a prism that sweeps is turned to every station, so '{key}' says nothing"
            yield _Clash(("prism", key), message, f"remove {key}, or sweeps")


def _of_batches(entry: SetupKeys) -> Iterator[_Clash]:
    if entry.through is None or entry.turned_by is not None:
        return
    if entry.prism is not None and entry.prism.sweeps:
        message = "a prism that sweeps turns the light from station to station, so no targets stand in it at once"
        yield _Clash(("through",), message, "remove through, or sweeps")
    elif not has_line(entry):
        message = "targets that are read at once stand in a straight line, but nothing says where the beam goes"
        yield _Clash(("through",), message, "add aim: +x to the emitter, or near and far to the set-up")
    elif len(set(entry.through)) < len(entry.through):
        yield _Clash(("through",), "a target stands in the beam twice", "name each target once")

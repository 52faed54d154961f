"""Base of every mapping of the layout language: which keys it has, which one says what it is, which come later."""

from __future__ import annotations

from typing import Any, ClassVar

from pydantic import BaseModel, ConfigDict, GetJsonSchemaHandler, ValidationInfo, model_validator
from pydantic_core import CoreSchema

from ..hints import did_you_mean, near_names
from .context import Context, context_of, fail, shown
from .strict_yaml import Block

__all__ = ["Keys"]


def _spoken(field: str) -> str:
    """Key as people type it: ``level_by`` is ``level by``."""
    return field.rstrip("_").replace("_", " ")


class Keys(BaseModel):
    """A mapping with fixed keys.

    Class attributes
    ----------------
    called : what messages call it, e.g. ``a station group``
    what : keys of which exactly one must be there
    later : words of the language that this version does not compute
    complete : True where every key without a value of its own must be there, but for those in ``optional``
    optional : fields that a complete mapping may leave out
    """

    model_config = ConfigDict(extra="forbid", frozen=True, alias_generator=_spoken, validate_default=False)
    called: ClassVar[str] = "this mapping"
    what: ClassVar[tuple[str, ...]] = ()
    later: ClassVar[tuple[str, ...]] = ()
    complete: ClassVar[bool] = False
    optional: ClassVar[frozenset[str]] = frozenset()

    @classmethod
    def __get_pydantic_json_schema__(cls, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        """JSON Schema, in which exactly one of the ``what`` keys is asked for."""
        result = handler(schema)
        if cls.what:
            handler.resolve_ref_schema(result)["oneOf"] = [{"required": [key]} for key in cls.what]
        return result

    @classmethod
    def key_names(cls) -> dict[str, str]:
        """Key as typed -> field name."""
        return {field.alias or name: name for name, field in cls.model_fields.items()}

    @model_validator(mode="before")
    @classmethod
    def _only_known_keys(cls, data: Any, info: ValidationInfo) -> Any:
        if not isinstance(data, dict):
            keys = ", ".join(list(cls.key_names())[:4])
            raise fail(f"{cls.called} is a mapping with keys such as {keys}; here stands {shown(data)}")
        return cls.look(data, context_of(info)) if isinstance(data, Block) else data

    @classmethod
    def look(cls, data: Block, context: Context) -> dict[str, Any]:
        """Entries of ``data`` that can be read; what is wrong with its keys goes to ``context``."""
        near = cls._say_unknown(data, context)
        cls._say_missing(data, context, near)
        cls._say_what(data, context)
        known = cls.key_names()
        for key, value in data.items():
            if value is None and key in known:
                context.say(data.keys_at[key], f"nothing is written after '{key}'", "give it a value or remove it")
        return {key: value for key, value in data.items() if key in known and value is not None}

    @classmethod
    def _say_unknown(cls, data: Block, context: Context) -> set[str]:
        """Report keys that are not known here; return the keys that were probably meant."""
        known, meant = cls.key_names(), set()
        for key in data:
            if key in known:
                continue
            if key in cls.later:
                context.say_later(data, key)
                continue
            free = [name for name in known if name not in data]
            meant.update(near_names(key, free, most=1))
            advice = did_you_mean(key, free or known, most=14)
            context.say(data.keys_at[key], f"{cls.called} has no key '{key}'", advice)
        return meant

    @classmethod
    def _say_missing(cls, data: Block, context: Context, meant: set[str]) -> None:
        for key, name in cls.key_names().items():
            field = cls.model_fields[name]
            needed = field.is_required() or (cls.complete and field.default is None and name not in cls.optional)
            if needed and key not in data and key not in meant:
                example = f", for example {key}: {field.examples[0]}" if field.examples else ""
                context.say(data.place, f"{cls.called} needs the key '{key}'", f"add it{example}")

    @classmethod
    def _say_what(cls, data: Block, context: Context) -> None:
        if not cls.what:
            return
        present = [key for key in cls.what if key in data]
        choices = ", ".join(cls.what)
        if len(present) > 1:
            place = max(data.keys_at[key] for key in present)
            both = " and ".join(f"'{key}'" for key in present)
            context.say(place, f"{cls.called} cannot be {both} at the same time", f"keep one of: {choices}")
        elif not present and not any(key in data for key in cls.later):
            odd = [word for word in data if word not in cls.key_names()]
            near = [key for word in odd for key in near_names(word, cls.what, most=1)]
            if not near:  # otherwise the unknown key has been answered with the near one
                context.say(data.place, f"{cls.called} does not say what it is", f"one key is needed: {choices}")

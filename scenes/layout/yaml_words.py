"""What the YAML parser says, in words for someone who types a layout."""

from __future__ import annotations

import yaml
from yaml.reader import ReaderError

from ..errors import Problem

__all__ = ["explain_syntax"]

_CLOSE = "a bracket is not closed, or a comma is missing"
_OPEN_QUOTE = "a quote is opened and not closed"
_WORDS: tuple[tuple[str, str, str], ...] = (
    # what the parser says, what is wrong, what to do
    ("'\\t'", "a tab stands where only spaces may stand", "indent with spaces"),
    ("mapping values are not allowed", "a second ': ' does not fit here", "indent the line, or quote a text with ': '"),
    ("expected ',' or '}'", _CLOSE, "close it with '}'"),
    ("expected ',' or ']'", _CLOSE, "close it with ']'"),
    ("could not find expected ':'", "a key without its ': '", "write 'key: value'"),
    ("expected <block end>", "the line does not fit the ones above it", "check its indentation, brackets and quotes"),
    ("sequence entries are not allowed", "a '- ' does not fit here", "put lists in brackets, or on lines of their own"),
    ("mapping keys are not allowed", "a '? ' does not fit here", "remove it, or quote the text"),
    ("unexpected end of stream", _OPEN_QUOTE, "close it"),
    ("unexpected document separator", _OPEN_QUOTE, "close it"),
    ("scanning a block scalar", "'|' and '>' start a block of text, which does not fit here", "quote the text"),
    ("scanning a tag", "tags ('!') are not part of the layout language", "quote the text"),
    ("expected the node content", "a value is expected here", "check the brackets and commas"),
    ("duplicate anchor", "an anchor '&' of this name stands in another line too", "give it another name"),
    ("undefined tag handle", "tags ('!') are not part of the layout language", "quote the text"),
    ("expected alphabetic or numeric", "a name must follow '&', '*' or '%'", "quote the text"),
    ("that cannot start any token", "a value cannot start with this character", "put the text in quotes"),
    ("unknown escape character", "a backslash in double quotes does not fit here", "use single quotes"),
    ("expected '<document start>'", "this does not continue the lines above", "check indentation, quotes and brackets"),
    ("incompatible YAML document", "this version of YAML is not read", "remove the line that starts with '%'"),
)


def explain_syntax(error: yaml.YAMLError, text: str, file: str) -> Problem:
    """Problem for an error of the YAML parser: where, what and what to do."""
    if isinstance(error, ReaderError):
        before = text[: error.position]
        line, column = before.count("\n") + 1, len(before) - (before.rfind("\n") + 1) + 1
        return Problem(file, line, column, "a character that is not text stands here", "is this really a layout file?")
    if not isinstance(error, yaml.MarkedYAMLError):
        return Problem(file, 1, 1, "this is not YAML", "a layout starts with 'layout: 1'")
    opened = error.context_mark
    line, column = _counted(error.problem_mark or opened)
    said = f"{error.problem or ''} {error.context or ''}"
    for sign, message, advice in _WORDS:
        if sign in said:
            if message == _OPEN_QUOTE:
                line, column = _counted(opened)
            if message == _CLOSE and opened is not None:
                message = f"{message}; the bracket was opened in line {opened.line + 1}, column {opened.column + 1}"
            return Problem(file, line, column, message, advice)
    return Problem(file, line, column, "this does not read as YAML", "check brackets, quotes and indentation here")


def _counted(mark: yaml.Mark | None) -> tuple[int, int]:
    return (mark.line + 1, mark.column + 1) if mark else (1, 1)

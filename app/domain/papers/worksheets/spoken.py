"""Formulas in words: Typst's notation for mathematics as it would be read aloud."""

import re
from collections.abc import Iterator

_TOKEN = re.compile(
    r'"(?P<text>[^"]*)"|(?P<number>\d+(?:\.\d+)?)|(?P<word>[^\W\d_]+(?:\.[a-z]+)*)|(?P<sign>[<>]=|\S)'
)
_WORDS = {
    "dot.op": "times",
    "times": "times",
    "div": "divided by",
    "approx": "is about",
    "lt.eq": "is at most",
    "gt.eq": "is at least",
    "plus.minus": "plus or minus",
    "minus.plus": "minus or plus",
    "degree": "degrees",
    "thin": "",
    "space": "",
    "quad": "",
    "wide": "",
    "log": "the logarithm of",
    "ln": "the natural logarithm of",
    "sin": "the sine of",
    "cos": "the cosine of",
    "tan": "the tangent of",
    "arcsin": "the arc sine of",
    "arccos": "the arc cosine of",
    "arctan": "the arc tangent of",
    "sum": "the sum of",
    "infinity": "infinity",
    "Delta": "delta",
}
_SIGNS = {
    "=": "equals",
    "+": "plus",
    "-": "minus",
    "−": "minus",
    "*": "times",
    "/": "over",
    "^": "to the power",
    "_": "sub",
    ":": ", with",
    "<=": "is at most",
    ">=": "is at least",
    "<": "is less than",
    ">": "is greater than",
    "≈": "is about",
    "%": "percent",
    "(": "open bracket",
    ")": "close bracket",
    "[": "open bracket",
    "]": "close bracket",
    "|": "bar",
    ",": ",",
    "!": "factorial",
    "&": "",
    "\\": "",
}
# Functions of the notation: what stands before, between and after their arguments.
_FUNCTIONS = {
    "frac": ("", "over", ""),
    "sqrt": ("the square root of", "", ""),
    "abs": ("the size of", "", ""),
    "ceil": ("", "", "rounded up"),
    "floor": ("", "", "rounded down"),
    "round": ("", "", "rounded"),
    "overline": ("the mean of", "", ""),
    "upright": ("", "", ""),
    "text": ("", "", ""),
    "op": ("", "", ""),
    "hat": ("", "", "hat"),
    "macron": ("", "", "bar"),
    "binom": ("", "choose", ""),
    "bold": ("", "", ""),
    "italic": ("", "", ""),
    "cases": ("one of", ";", ""),
}
# Around a sum or difference the ear must hear where the fraction or the root ends.
_FENCES = {
    "frac": ("the fraction", ", end of fraction,"),
    "sqrt": ("the square root of", ", end of root,"),
}


def spoken(typst_math: str) -> str:
    """The formula in words, for those who hear it: "f equals 1 over 2 L"."""
    tokens = list(_TOKEN.finditer(typst_math))
    words, _ = _read(tokens, 0, stop="")
    said = " ".join(" ".join(words).replace(" ,", ",").split())
    return re.sub(r",(?:\s*,)+", ",", said).rstrip(",")


def _read(tokens: list[re.Match[str]], at: int, *, stop: str) -> tuple[list[str], int]:
    """Words from token `at` to the sign `stop`, and the place after it."""
    words: list[str] = []
    while at < len(tokens):
        token = tokens[at]
        if token["sign"] and token["sign"] == stop:
            return words, at + 1
        opens = at + 1 < len(tokens) and tokens[at + 1]["sign"] == "("
        adjacent = opens and tokens[at + 1].start() == token.end()
        if token["word"] == "root" and adjacent:
            (degree, radicand), at = _arguments(tokens, at + 2)
            words += ["root", *degree, "of", *radicand]
        elif token["word"] in _FUNCTIONS and adjacent:
            before, between, after = _FUNCTIONS[token["word"]]
            arguments, at = _arguments(tokens, at + 2)
            if any(_is_sum(argument) for argument in arguments):
                before, after = _FENCES.get(token["word"], (before, after))
            words += [before, *_joined(arguments, between), after]
        elif token["word"] == "sum" and _is_sign(tokens, at + 1, "_"):
            said, at = _bounds(tokens, at + 1)
            words += said
        elif token["sign"] in {"^", "_"} and adjacent:
            group, at = _read(tokens, at + 2, stop=")")
            words += [_SIGNS[token["sign"]], *group, "," if token["sign"] == "^" else ""]
        else:
            words.append(_word(token))
            at += 1
    return words, at


def _is_sign(tokens: list[re.Match[str]], at: int, sign: str) -> bool:
    return at < len(tokens) and tokens[at]["sign"] == sign


def _bounds(tokens: list[re.Match[str]], at: int) -> tuple[list[str], int]:
    """From where to where a sum runs: "the sum from i equals 0 to s of"."""
    lower, at = _script(tokens, at + 1)
    if not _is_sign(tokens, at, "^"):
        return ["the sum over", *lower, "of"], at
    upper, at = _script(tokens, at + 1)
    return ["the sum from", *lower, "to", *upper, "of"], at


def _script(tokens: list[re.Match[str]], at: int) -> tuple[list[str], int]:
    """What is set below or above: a group in brackets, or one sign."""
    if _is_sign(tokens, at, "("):
        return _read(tokens, at + 1, stop=")")
    return ([_word(tokens[at])], at + 1) if at < len(tokens) else ([], at)


def _arguments(tokens: list[re.Match[str]], at: int) -> tuple[list[list[str]], int]:
    """The comma-parted arguments of a function, and the place after its bracket."""
    depth, start, groups = 0, at, []
    for place in range(at, len(tokens)):
        sign = tokens[place]["sign"]
        if sign == "(":
            depth += 1
        elif sign == ")" and depth:
            depth -= 1
        elif sign == ")" or (sign == "," and not depth):
            groups.append(_read(tokens[start:place], 0, stop="")[0])
            start = place + 1
            if sign == ")":
                return _two(groups), start
    return _two([*groups, _read(tokens[start:], 0, stop="")[0]]), len(tokens)


def _is_sum(words: list[str]) -> bool:
    """Whether a plus or a minus stands between terms (a leading minus is only a sign)."""
    return bool({"plus", "minus"} & set(words[1:]))


def _two(groups: list[list[str]]) -> list[list[str]]:
    """At least two arguments, so that a root without a degree still reads."""
    return groups if len(groups) > 1 else [*groups, []]


def _joined(arguments: list[list[str]], between: str) -> Iterator[str]:
    said = [argument for argument in arguments if argument]
    for index, argument in enumerate(said):
        if index:
            yield between
        yield from argument


def _word(token: re.Match[str]) -> str:
    if token["text"] is not None:
        return token["text"]
    if token["number"]:
        return token["number"]
    if token["word"]:
        return _WORDS.get(token["word"], token["word"].replace(".", " "))
    return _SIGNS.get(token["sign"], token["sign"])

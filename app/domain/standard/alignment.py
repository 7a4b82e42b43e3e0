"""Codes of standards in any customary spelling, search, and suggestions for a treatment.

A `CodeIndex` is built once from values and asked many times. A spelling that could mean two
standards is reported with both, never guessed.
"""

import heapq
import math
import re
import unicodedata
from bisect import bisect_left
from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from itertools import groupby, islice

from app.domain.bands import COLLEGE, KINDERGARTEN


@dataclass(frozen=True, slots=True)
class StandardEntry:
    """One standard as the index knows it. ``text`` is whatever may be searched by words:
    domain, our own note, a school's imported statement."""

    key: str  # unique in the index
    framework: str
    code: str
    aliases: tuple[str, ...] = ()
    grade_low: int = KINDERGARTEN  # 0 is kindergarten, 13 first-year college
    grade_high: int = COLLEGE
    text: str = ""
    retired: bool = False


class Tier(StrEnum):
    """How a spelling belongs to a standard, the closest first."""

    CODE = "code"
    ALIAS = "alias"
    DERIVED = "derived"  # follows from the shape of the code, such as a left-out cluster letter


_TIERS = tuple(Tier)


@dataclass(frozen=True, slots=True)
class CodeIndex:
    """Entries with their spellings and words, ready to be asked. Made by `build_index`."""

    entries: Mapping[str, StandardEntry]
    spellings: Mapping[str, Mapping[str, Tier]]  # spelling key → entry key → tier
    ordered: tuple[str, ...]  # spelling keys, sorted for prefixes
    words: Mapping[str, frozenset[str]]  # word → entry keys
    lists: Mapping[str, tuple[tuple[str, ...], tuple[str, ...]]] = field(repr=False)
    # word → entry keys in the order of codes: current ones, retired ones
    vocabulary: tuple[str, ...]  # words, sorted for prefixes
    words_of: Mapping[str, Counter[str]] = field(repr=False)
    rank: Mapping[str, int] = field(repr=False)  # entry key → place in the order of codes
    frameworks: Mapping[str, str] = field(repr=False)  # key in lower case → key


@dataclass(frozen=True, slots=True)
class Resolution:
    """What a spelling means: exactly one entry, several, or none (with near ones)."""

    spelling: str
    entry: StandardEntry | None
    candidates: tuple[StandardEntry, ...]
    sentence: str

    @property
    def code(self) -> str | None:
        """The canonical code, where the spelling means exactly one standard."""
        return self.entry.code if self.entry else None


@dataclass(frozen=True, slots=True)
class Hit:
    """A search result: the higher the score the better, and why it was found."""

    entry: StandardEntry
    score: float
    reason: str


@dataclass(frozen=True, slots=True)
class Suggestion:
    """A standard a person may accept or decline; ``words`` are the shared words, weightiest first.

    The score is the cosine of the two weighted word lists, from 0 to 1.
    """

    entry: StandardEntry
    score: float
    words: tuple[str, ...]
    reason: str


# --- spellings -----------------------------------------------------------------------------------

# Publishers' prefixes in front of a code: "CCSS.MATH.CONTENT.", "CCSSM ", "NGSS ".
_PREFIX = re.compile(
    r"^(?:HTTPS?://(?:WWW\.)?CORESTANDARDS\.ORG/)?"
    r"(?:(?:CCSS[\s.-]*M(?:ATH)?|CCSS|NGSS|MATH)[\s./:-]+)?"
    r"(?:MATH[\s./:-]+)?(?:(?:CONTENT|PRACTICE)[\s./:-]+)?"
)
_TOKEN = re.compile(r"[A-Z]+|[0-9]+")
_SHAPE_GRADE = re.compile(r"^(K|[1-8])\.([A-Z]{1,3})\.([A-Z])\.(\d+)(?:\.([a-z]))?$")
_SHAPE_HIGH_SCHOOL = re.compile(r"^HS([NAFGS])\.([A-Z]{1,3})\.([A-Z])\.(\d+)(?:\.([a-z]))?$")


def spelling_key(text: str) -> str:
    """Return what spellings of one code share: capitals and digits, without the publisher.

    Dots, hyphens and spaces drop out, except between two numbers. "" if nothing is left.
    """
    plain = unicodedata.normalize("NFKC", text).strip().upper()
    body = plain[_end_of_prefix(plain) :]
    tokens = _TOKEN.findall(body)
    joined = ""
    for token in tokens:
        if joined and joined[-1].isdigit() and token.isdigit():
            joined += "."
        joined += token
    return joined


def _end_of_prefix(plain: str) -> int:
    found = _PREFIX.match(plain)
    return found.end() if found else 0


def _derived_spellings(code: str) -> Iterator[str]:
    """Yield customary shorter or longer forms of a code of the mathematics framework's shape."""
    graded = _SHAPE_GRADE.match(code)
    if graded:
        grade, domain, cluster, number, part = graded.groups(default="")
        yield f"{grade}.{domain}.{number}{part}"
        yield f"{grade}.{domain}.{cluster}.{number}{part}"
    high = _SHAPE_HIGH_SCHOOL.match(code)
    if high:
        category, domain, cluster, number, part = high.groups(default="")
        for front in (category, f"HS{category}", f"HS.{category}"):
            yield f"{front}-{domain}.{number}{part}"
            yield f"{front}-{domain}.{cluster}.{number}{part}"


def _near_keys(key: str) -> Iterator[str]:
    """Yield the key with one inner letter left out: a wrong cluster letter is the usual slip."""
    for i, letter in enumerate(key):
        if letter.isalpha() and 0 < i < len(key) - 1:
            yield key[:i] + key[i + 1 :]


def build_index(entries: Iterable[StandardEntry]) -> CodeIndex:
    """Index standards by spelling and by word. Raises ValueError for a key used twice."""
    by_key: dict[str, StandardEntry] = {}
    spellings: dict[str, dict[str, Tier]] = defaultdict(dict)
    words_of: dict[str, Counter[str]] = {}
    for entry in entries:
        if entry.key in by_key:
            raise ValueError(f"The index has the key {entry.key} twice: keys must differ.")
        by_key[entry.key] = entry
        for tier, forms in (
            (Tier.CODE, (entry.code,)),
            (Tier.ALIAS, entry.aliases),
            (Tier.DERIVED, tuple(_derived_spellings(entry.code))),
        ):
            for form in forms:
                key = spelling_key(form)
                if key:
                    spellings[key].setdefault(entry.key, tier)
        words_of[entry.key] = Counter(tokens(entry.text))
    ordered = sorted(by_key.values(), key=_code_order)
    lists: dict[str, tuple[list[str], list[str]]] = defaultdict(lambda: ([], []))
    for entry in ordered:
        for word in words_of[entry.key]:
            lists[word][entry.retired].append(entry.key)
    return CodeIndex(
        entries=by_key,
        spellings=dict(spellings),
        ordered=tuple(sorted(spellings)),
        words={word: frozenset((*now, *retired)) for word, (now, retired) in lists.items()},
        lists={word: (tuple(now), tuple(retired)) for word, (now, retired) in lists.items()},
        vocabulary=tuple(sorted(lists)),
        words_of=words_of,
        rank={entry.key: place for place, entry in enumerate(ordered)},
        frameworks={entry.framework.lower(): entry.framework for entry in by_key.values()},
    )


def _without_framework(
    text: str, index: CodeIndex, framework: str | None
) -> tuple[str, str | None]:
    """A spelling and its framework: the one asked for, or the one whose key stands in front."""
    front, _, rest = text.strip().partition(" ")
    named = index.frameworks.get(front.lower())
    if framework is None and named is not None and rest.strip():
        return rest.strip(), named
    return text, framework


def resolve(text: str, index: CodeIndex, framework: str | None = None) -> Resolution:
    """Find the standard a spelling means, in all frameworks or in one.

    Within a framework the code itself beats an alias, and an alias a derived form; across
    frameworks nothing is guessed. A framework's key may stand in front of the code.
    """
    text, framework = _without_framework(text, index, framework)
    found = _meant(spelling_key(text), index, framework)
    if len(found) == 1:
        (entry,) = found
        note = " It is retired." if entry.retired else ""
        return Resolution(text, entry, found, f"{text.strip()} is {_named(entry)}.{note}")
    if found:
        listed = " or ".join(_named(entry) for entry in found)
        front = f"{found[0].framework} {found[0].code}"
        sentence = f"{text.strip()} can mean {listed}: choose one, such as “{front}”."
        return Resolution(text, None, found, sentence)
    near = _near(spelling_key(text), index, framework)
    sentence = f"No standard is spelled {text.strip() or 'with nothing'}."
    if near:
        sentence += f" Nearest: {', '.join(_named(entry) for entry in near)}."
    return Resolution(text, None, near, sentence)


def _meant(key: str, index: CodeIndex, framework: str | None) -> tuple[StandardEntry, ...]:
    best: dict[str, list[tuple[int, StandardEntry]]] = defaultdict(list)
    for entry_key, tier in index.spellings.get(key, {}).items():
        entry = index.entries[entry_key]
        if framework in (None, entry.framework):
            best[entry.framework].append((_TIERS.index(tier), entry))
    return tuple(
        entry
        for ranked in best.values()
        for rank, entry in ranked
        if rank == min(r for r, _ in ranked)
    )


def _near(key: str, index: CodeIndex, framework: str | None) -> tuple[StandardEntry, ...]:
    found = {e.key: e for near in _near_keys(key) for e in _meant(near, index, framework)}
    return tuple(found[k] for k in sorted(found))


def _named(entry: StandardEntry) -> str:
    return f"{entry.code} ({entry.framework})"


# --- words ---------------------------------------------------------------------------------------

_STOP_WORD_LIST = (
    "a about after all also an and any are as at be been before between both but by can come "
    "do does each for from give given has have how if in including into is it its like may more "
    "most not of on one only or other our out over own so some such than that the their them then "
    "there these they this those through to two up use used using was we what when where whether "
    "which while who why will with within without you your"
)
_STOP_WORDS = frozenset(_STOP_WORD_LIST.split())
_SHORTEST_WORD = 2
_SHORTEST_STEM = 4


def tokens(text: str) -> list[str]:
    """Return the searchable words of a text: lower case, no marks, no stop words, singular."""
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode().lower()
    found = re.findall(r"[a-z]+|\d+", plain)
    return [
        _stem(word) for word in found if len(word) >= _SHORTEST_WORD and word not in _STOP_WORDS
    ]


def _stem(word: str) -> str:
    # Only plurals: a heavier stemmer joins words a teacher would keep apart (mean, meaning).
    if len(word) <= _SHORTEST_STEM or word.endswith(("ss", "us", "is")):
        return word
    if word.endswith("ies"):
        return word[:-3] + "y"
    if word.endswith(("ches", "shes", "xes", "sses")):
        return word[:-2]
    return word.removesuffix("s")


def _weight(word: str, index: CodeIndex) -> float:
    """Return the inverse document frequency, ln(1 + N / n): rare words say more."""
    return math.log1p(len(index.entries) / max(1, len(index.words.get(word, ()))))


def _prefixed(ordered: Sequence[str], prefix: str) -> Iterator[str]:
    for i in range(bisect_left(ordered, prefix), len(ordered)):
        if not ordered[i].startswith(prefix):
            return
        yield ordered[i]


# --- search --------------------------------------------------------------------------------------

_EXACT, _PREFIX_SCORE = 1000.0, 500.0


def search(
    text: str,
    index: CodeIndex,
    *,
    grades: tuple[int, int] | None = None,
    framework: str | None = None,
    limit: int = 20,
) -> tuple[Hit, ...]:
    """Rank standards for a code, the beginning of a code, or words, the best first.

    Every word must occur; the last may be unfinished. Retired standards come after current ones
    of the same kind of match. A framework's key may stand in front.
    """
    text, framework = _without_framework(text, index, framework)
    by_code: dict[str, tuple[float, str]] = {}
    for key, score, reason in _code_hits(text, index):
        if key not in by_code or by_code[key][0] < score:
            by_code[key] = (score, reason)
    # With a number in it, the beginning of a code is a code: its letters are no search word.
    is_code = bool(by_code) and any(c.isdigit() for c in text)

    def wanted(key: str) -> bool:
        entry = index.entries[key]
        kept = framework is None or entry.framework == framework
        return kept and (grades is None or _grades_overlap(entry, grades))

    hits: list[Hit] = []
    for retired in (False, True):
        coded = [key for key in by_code if index.entries[key].retired is retired and wanted(key)]
        best = heapq.nsmallest(limit, coded, key=lambda k: (-by_code[k][0], index.rank[k]))
        hits += [Hit(index.entries[key], *by_code[key]) for key in best]
        if is_code:
            continue
        # A common word is in thousands of statements: no more are looked at than are wanted.
        worded = (
            Hit(index.entries[key], score, reason)
            for key, score, reason in _word_hits(text, index, retired=retired)
            if key not in by_code and wanted(key)
        )
        hits += islice(worded, max(0, limit - len(hits)))
    return tuple(hits[:limit])


_Found = tuple[str, float, str]  # entry key, score, reason


def _code_hits(text: str, index: CodeIndex) -> Iterator[_Found]:
    key = spelling_key(text)
    if not key:
        return
    begins = f"begins with {text.strip()}"
    for spelling in _prefixed(index.ordered, key):
        for entry_key, tier in index.spellings[spelling].items():
            if spelling == key:
                yield entry_key, _EXACT - _TIERS.index(tier), f"spelled {text.strip()}"
            else:
                yield entry_key, _PREFIX_SCORE, begins


def _word_hits(text: str, index: CodeIndex, *, retired: bool) -> Iterator[_Found]:
    """Yield what has every word, the best first: the weightiest form of the last word counts."""
    asked = tokens(text)
    if not asked:
        return
    *others, last = asked
    elsewhere = [index.words.get(word, frozenset()) for word in others]
    base = sum(_weight(word, index) for word in others)
    values = {
        form: (1.0 if form == last else 0.5) * _weight(form, index)
        for form in _prefixed(index.vocabulary, last)
    }
    reason = f"has the word{'s' if others else ''} {', '.join(asked)}"
    seen: set[str] = set()
    for value, forms in groupby(sorted(values, key=values.__getitem__)[::-1], values.__getitem__):
        lists = [index.lists[form][retired] for form in forms]
        for key in heapq.merge(*lists, key=index.rank.__getitem__) if lists[1:] else lists[0]:
            if key not in seen and all(key in keys for keys in elsewhere):
                seen.add(key)
                yield key, base + value, reason


def _grades_overlap(entry: StandardEntry, grades: tuple[int, int]) -> bool:
    return entry.grade_low <= grades[1] and grades[0] <= entry.grade_high


def _code_order(entry: StandardEntry) -> tuple[tuple[int, int, str], ...]:
    """Order codes as people count: 6.EE.A.9 before 6.EE.A.10, kindergarten first."""
    parts = re.findall(r"\d+|[^\W\d]+", entry.code)
    counted = ["0" if i == 0 and part == "K" else part for i, part in enumerate(parts)]
    return tuple((0, int(p), "") if p.isdigit() else (1, 0, p.upper()) for p in counted)


# --- suggestions ---------------------------------------------------------------------------------


class Suggester:
    """Standards of a grade band, ready to be asked for the treatments of the band one by one.

    Score: cosine of term frequency × inverse document frequency. Retired standards are never
    suggested.
    """

    def __init__(
        self, index: CodeIndex, *, grades: tuple[int, int], framework: str | None = None
    ) -> None:
        self._index = index
        self._weights = {word: _weight(word, index) for word in index.vocabulary}
        # word → (entry key, part of that word in the entry's vector of length one)
        self._parts: dict[str, list[tuple[str, float]]] = defaultdict(list)
        for key, entry in index.entries.items():
            other = framework not in (None, entry.framework)
            if other or entry.retired or not _grades_overlap(entry, grades):
                continue
            theirs = {w: n * self._weights[w] for w, n in index.words_of[key].items()}
            length = _length(theirs)
            for word, value in theirs.items():
                self._parts[word].append((key, value / length))

    def suggest(
        self,
        words: str | Mapping[str, float],
        *,
        exclude: Collection[str] = (),
        limit: int = 10,
    ) -> tuple[Suggestion, ...]:
        """The standards whose words are most like a treatment's, the best first.

        ``words`` is the treatment's text, or texts with a weight each (its title may count more
        than its explanation). ``exclude`` holds entry keys already decided.
        """
        asked = _weighted(words, self._index)
        norm = _length(asked)
        scores: dict[str, float] = defaultdict(float)
        for word, value in asked.items():
            for key, part in self._parts.get(word, ()):
                scores[key] += value * part
        unwanted = set(exclude)
        best = heapq.nsmallest(
            limit,
            (key for key in scores if key not in unwanted),
            key=lambda key: (-round(scores[key] / norm, 12), self._index.rank[key], key),
        )
        return tuple(self._suggestion(key, scores[key] / norm, asked) for key in best)

    def _suggestion(self, key: str, score: float, asked: Mapping[str, float]) -> Suggestion:
        counts = self._index.words_of[key]
        shared = {w: asked[w] * n * self._weights[w] for w, n in counts.items() if w in asked}
        return _suggestion(self._index.entries[key], score, shared)


def _weighted(words: str | Mapping[str, float], index: CodeIndex) -> dict[str, float]:
    texts = {words: 1.0} if isinstance(words, str) else words
    counts: dict[str, float] = defaultdict(float)
    for text, weight in texts.items():
        for word in tokens(text):
            counts[word] += weight
    return {w: n * _weight(w, index) for w, n in counts.items() if w in index.words and n > 0}


def _length(vector: Mapping[str, float]) -> float:
    return math.sqrt(sum(value * value for value in vector.values()))


def _suggestion(entry: StandardEntry, score: float, shared: Mapping[str, float]) -> Suggestion:
    ranked = tuple(sorted(shared, key=lambda w: (-shared[w], w)))
    return Suggestion(entry, score, ranked, f"Shared words: {', '.join(ranked)}.")

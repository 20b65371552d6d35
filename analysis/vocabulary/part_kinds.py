"""One wording for what a workshop calls by many names, and the kind of part that a wording speaks of.

A price book says "lambda probe", an export "HO2S B1S2 circuit low": both mean an
oxygen sensor.  And "fuel pump relay" speaks of a relay, not of the fuel pump whose
name it holds.  The words come as rows from outside; here is only what is done with them.

Places (front left, cylinder 2) are left as they stand: whoever compares places reads them.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from analysis.vocabulary.parts import part_key

_REWRITING = ("synonym", "abbreviation")
# A stroke, dot or ampersand between single letters joins them: A/C, S.R.S.
_JOINED = re.compile(r"(?<=\b\w)[/.&](?=\w\b)")
# What follows one of these speaks of the fault, or adds a place: "ABS module: internal fault", "sensor, front left".
_BREAK, _OF = ",", "of"
# The open standards write this where a make may have either.
_EITHER = re.compile(r"\bsensor\s*/\s*switch\b")
_TOKENS = re.compile(r"[^\W_]+|[,:;()]|(?<=\s)[-\u2010-\u2015](?=\s)")


@dataclass(frozen=True)
class PartText:
    """A text in canonical words.

    Attributes:
        text: Every word, in lower case and in the singular, with each synonym replaced; single spaces.
        core: The same without the silent words (circuit, open, implausible), unless a phrase's meaning holds them.
        kind: The kind of part spoken of (sensor, relay, lamp ...), or None where no word tells.
    """

    text: str
    core: str
    kind: str | None


@dataclass(frozen=True)
class TradeWords:
    """The words of the trade, ready for use.

    Attributes:
        phrases: Each way of saying it, as a tuple of words, to the canonical words.
        kinds: Word to the kind of part that it stands for.
        silent: Words that name no part.
    """

    phrases: Mapping[tuple[str, ...], tuple[str, ...]]
    kinds: Mapping[str, str]
    silent: frozenset[str]

    @classmethod
    def from_rows(cls, rows: Iterable[Mapping[str, str | None]]) -> TradeWords:
        """Build the vocabulary.

        Args:
            rows: ``kind``, ``word`` and ``means``.  ``synonym`` and ``abbreviation`` rows replace ``word`` (one or
                more words) by ``means``; a ``kind`` row gives the kind of part that a word stands for; a ``silent``
                row names a word that tells of no part, with ``means`` blank.

        Returns:
            The vocabulary; letter case, plural and punctuation of the rows do not count.

        Raises:
            ValueError: A row's kind is none of these, it lacks a word or its meaning, or two rows give one word two
                meanings.
        """
        phrases: dict[tuple[str, ...], tuple[str, ...]] = {}
        kinds: dict[str, str] = {}
        silent: set[str] = set()
        for row in rows:
            kind, written, means = row["kind"] or "", row["word"] or "", row["means"] or ""
            words, meant = _words(written), _words(means)
            if kind not in (*_REWRITING, "kind", "silent"):
                raise ValueError(
                    f"trade word {written!r}: expected synonym, abbreviation, kind or silent; got {kind!r}"
                )
            if not words or bool(meant) is (kind == "silent"):
                raise ValueError(f"trade word {written!r} of kind {kind!r}: the word or its meaning {means!r} is amiss")
            if kind == "silent":
                silent.update(words)
            elif kind == "kind":
                if kinds.setdefault(words[0], means) != means:
                    raise ValueError(f"trade word {written!r} has two kinds: {kinds[words[0]]} and {means}")
            elif phrases.setdefault(words, meant) != meant:
                raise ValueError(f"trade word {written!r} means both {' '.join(phrases[words])} and {means}")
        # What is already canonical stays: "instrument cluster" must not become "instrument cluster cluster".
        return cls({meant: meant for meant in phrases.values()} | phrases, kinds, frozenset(silent))

    def canonical(self, text: str) -> PartText:
        """Return a text in canonical words.

        Args:
            text: A part's name or a code's text in any case.

        Returns:
            The text.  The longest phrase that begins at a word is replaced, from left to right, and what it is
            replaced by is not replaced again.  The kind is that of the last word with a kind in the first clause: in
            English the last noun says what the thing is.  Words that nobody listed stay as they are.
        """
        tokens = self._replaced(_tokens(text))
        words = [token for token, _ in tokens if token != _BREAK]
        core = [token for token, listed in tokens if token != _BREAK and (listed or token not in self.silent)]
        return PartText(" ".join(words), " ".join(core), self._kind(token for token, _ in tokens))

    def _kind(self, tokens: Iterable[str]) -> str | None:
        told: str | None = None
        named = False
        for token in tokens:
            # "signal ring of a wheel speed sensor" speaks of the ring.
            if (token == _BREAK and told is not None) or (token == _OF and named):
                break
            told = self.kinds.get(token, told)
            named = named or not (token == _BREAK or token in self.silent)
        return told

    def _replaced(self, tokens: list[str]) -> list[tuple[str, bool]]:
        """Return the canonical words, each with whether a listed phrase put it there."""
        longest = max(map(len, self.phrases), default=0)
        found: list[tuple[str, bool]] = []
        at = 0
        while at < len(tokens):
            for length in range(min(longest, len(tokens) - at), 0, -1):
                meant = self.phrases.get(tuple(tokens[at : at + length]))
                if meant is not None:
                    found += [(word, True) for word in meant]
                    at += length
                    break
            else:
                found.append((tokens[at], False))
                at += 1
        return found


def kinds_agree(part: str | None, text: str | None) -> bool:
    """Tell whether a text can speak of a part, as far as the kinds go.

    Args:
        part: The kind that the part's name tells.
        text: The kind that the code's text tells.

    Returns:
        False where one speaks of another kind than the other, or of none: a relay is not the pump that it feeds,
        and the sensor of a battery's temperature is no battery.
    """
    return text == part


def _words(text: str) -> tuple[str, ...]:
    return tuple(token for token in _tokens(text) if token != _BREAK)


def _tokens(text: str) -> list[str]:
    """Return the words in lower case and in the singular, and a comma for each mark that ends a clause."""
    found = _TOKENS.findall(_EITHER.sub("sensor", _JOINED.sub("", text.casefold())))
    return [part_key(token) if token[0].isalnum() else _BREAK for token in found]

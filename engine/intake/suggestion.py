"""Which complaints an owner's own words may mean: the three likeliest, or none; never forced.

Naive Bayes over words and word pairs, learnt from sentences that were written for it
(`kb/words/owners-words.json`), so that each suggestion can name the words that speak for it. What a
word says of a complaint is the log of how much oftener its sentences have it than the sentences of
all complaints have, drawn towards nothing where there are few sentences (Dirichlet prior).
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache

from engine.intake import speech
from kb.language.ownerswords import OwnersWords, Quiet, Saying, ours

_NOTHING = ""
"""The name that no complaint has: of what tells none."""
MOST = 3
"""Suggestions at most: a person at the desk reads three."""


@dataclass(frozen=True, slots=True)
class Settings:
    """How much counts: all were chosen by cross-validation, `python -m tests.bench.owners_words`.

    `usual` is how many features' worth the sentences of all complaints count beside those of one;
    `share` how much of the log of a complaint's share counts, for another desk has other shares;
    `temper` what of a text's logs counts, as its words hang together; `later` what each further
    clause counts of the one before, since people say first what they see and then what they guess
    or did, and `faintest` the least of it. A complaint is suggested with the odds `least` and a
    word whose log is `telling` at least: without any, nothing is. Nor is anything suggested where a
    text tells no complaint with the odds `quiet` at least.
    """

    usual: float = 30.0
    share: float = 0.5
    temper: float = 0.4
    later: float = 0.7
    faintest: float = 0.25
    least: float = 0.03
    telling: float = 0.9
    quiet: float = 0.8


@dataclass(frozen=True, slots=True)
class Suggestion:
    """A complaint with its odds (0 to 1) and the words, as typed, that speak for it most."""

    complaint: str
    says: str
    odds: float
    because: tuple[str, ...]


class Listener:
    """What owners' sentences say of complaints, counted once."""

    def __init__(
        self,
        sayings: Iterable[Saying],
        neutral: Iterable[str] = (),
        settings: Settings = Settings(),
        quiet: Quiet | None = None,
    ) -> None:
        self._settings = settings
        self._sayings = {saying.complaint: saying for saying in sayings}
        told = {name: (saying.sentences, saying.cases) for name, saying in self._sayings.items()}
        if quiet is not None:
            told[_NOTHING] = (quiet.sentences, quiet.cases)
        counts = {
            name: Counter(
                feature
                for sentence in sentences
                for feature in speech.features(speech.words(sentence))
            )
            for name, (sentences, _) in told.items()
        }
        sizes = {name: sum(count.values()) for name, count in counts.items()}
        features = {feature for count in counts.values() for feature in count}
        usual = {
            feature: sum(count[feature] / max(1, sizes[name]) for name, count in counts.items())
            / len(counts)
            for feature in features
        }
        self._logs = {
            name: {
                feature: math.log(
                    (count[feature] + settings.usual * usual[feature])
                    / ((sizes[name] + settings.usual) * usual[feature])
                )
                for feature in features
            }
            for name, count in counts.items()
        }
        whole = sum(cases for _, cases in told.values())
        self._priors = {
            name: settings.share * math.log(cases / whole) for name, (_, cases) in told.items()
        }
        single = {feature.removeprefix("not ") for feature in features}
        single_words = {word for name in single for word in name.split()}
        calm = {word.ground for name in neutral for clause in speech.words(name) for word in clause}
        self._known = single_words | calm

    def hear(self, text: str, among: Iterable[str] | None = None) -> tuple[Suggestion, ...]:
        """The likeliest complaints of a text, best first, three at most; none where no word tells,
        or the text most likely tells none: a cause, what was done, what is wanted.

        `among` names the complaints to choose from; all without it.
        """
        names = [n for n in (self._sayings if among is None else among) if n in self._sayings]
        names += [_NOTHING] if _NOTHING in self._logs else []
        marks = speech.features(tuple(speech.mend(speech.words(text), self._known)))
        far, nil = self._settings.later, self._settings.faintest
        weights = {
            name: {
                feature: self._logs[name][feature] * max(far**clause, nil)
                for feature, (_, clause) in marks.items()
                if feature in self._logs[name]
            }
            for name in names
        }
        odds = self._odds(weights)
        if odds.get(_NOTHING, 0.0) >= self._settings.quiet:
            return ()
        some = 1.0 - odds.pop(_NOTHING, 0.0)  # the rest is told as if it told one
        odds = {name: share / some for name, share in odds.items()}
        ranking = sorted(odds, key=lambda name: -odds[name])
        likely = [
            self._suggestion(name, odds[name], weights[name], marks)
            for name in ranking
            if odds[name] >= self._settings.least and self._is_telling(weights[name])
        ]
        return tuple(likely[:MOST])

    def _is_telling(self, weights: Mapping[str, float]) -> bool:
        return max(weights.values(), default=0.0) >= self._settings.telling

    def _odds(self, weights: Mapping[str, Mapping[str, float]]) -> dict[str, float]:
        logs = {
            name: self._priors[name] + self._settings.temper * math.fsum(parts.values())
            for name, parts in weights.items()
        }
        top = max(logs.values(), default=0.0)
        sizes = {name: math.exp(log - top) for name, log in logs.items()}
        whole = math.fsum(sizes.values()) or 1.0
        return {name: size / whole for name, size in sizes.items()}

    def _suggestion(
        self,
        name: str,
        odds: float,
        weights: Mapping[str, float],
        marks: Mapping[str, tuple[str, int]],
    ) -> Suggestion:
        for_it = sorted((f for f in weights if weights[f] > 0), key=lambda f: -weights[f])
        return Suggestion(
            name, self._sayings[name].says, odds, tuple(marks[f][0] for f in for_it[:MOST])
        )


@lru_cache(maxsize=1)
def listener() -> Listener:
    """The one that is taught by the shipped sentences. TroubleError if they can't be read."""
    words: OwnersWords = ours()
    return Listener(words.complaints, words.neutral, quiet=words.quiet)

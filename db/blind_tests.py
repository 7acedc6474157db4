# SPDX-License-Identifier: MIT
"""Blind tests: planned with balanced orders and new codes, answered set by set, sealed until they are revealed.

`Book.tests` is the door. What a test says is reckoned from its answers at any time; which code was which is told only after it
was revealed, and to whoever prepares the papers.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from random import Random, SystemRandom
from typing import TYPE_CHECKING, Any

from db.kinds import KINDS
from perfumery import Answer, BlindTest, Bottle, Discrimination, Ranking, ranking
from perfumery.blind import codes_of, is_right, planned_sets, ranks_of
from perfumery.discrimination import discriminate
from perfumery.findings import refuse
from perfumery.smelled import RANKING

if TYPE_CHECKING:
    from db.book import Book
    from db.store import Store


class BlindTests:
    """The blind tests of one book."""

    def __init__(self, book: Book, store: Store, put: Callable[..., tuple[Any, ...]]) -> None:
        self._book, self._store, self._put = book, store, put

    # reading ----------------------------------------------------------------------------------------------------------

    def answers(self, test: int) -> dict[int, Answer]:
        """{place of the set: its answer in force}."""
        return {answer.place: answer for answer in self._book.all(Answer, test=test)}

    def next_set(self, test: int) -> int | None:
        """The place of the first set without an answer, None where all have one."""
        answered, standing = self.answers(test), self._known(test)
        return next((place for place in range(len(standing.sets)) if place not in answered), None)

    def serving(self, test: int) -> tuple[str, ...]:
        """The sets with their key, for whoever prepares the papers and for nobody who smells them."""
        return self._known(test).sets

    def result(self, test: int) -> Discrimination | Ranking | None:
        """What the answers given so far say; None without any. It tells how many were right, never which code was which."""
        standing, answers = self._known(test), self.answers(test)
        if not answers:
            return None
        if standing.method == RANKING:
            rows = [ranks_of(standing.sets[place], answer.chosen) for place, answer in sorted(answers.items())]
            return ranking(rows, alpha=standing.alpha)
        right = sum(self._is_right(standing, answer) for answer in answers.values())
        return discriminate(standing.method, right, len(answers), alpha=standing.alpha)

    @staticmethod
    def _is_right(test: BlindTest, answer: Answer) -> bool:
        if answer.right is not None:
            return answer.right
        return is_right(test.method, test.sets[answer.place], answer.chosen)

    # doing ------------------------------------------------------------------------------------------------------------

    def plan(
        self, method: str, samples: tuple[int, ...], count: int, *, question: str = "", alpha: float = 0.05,
        project: int | None = None, sitting: int | None = None, shuffled: bool = False, rng: Random | None = None,
    ) -> BlindTest:  # fmt: skip
        """A test of so many sets, with new codes and balanced orders. Raises Refused `reference-missing` for a bottle that is
        not there, `serving-range`, `answers-range`, `alpha-range`, `same-sample` for one bottle against itself."""
        for key in samples:
            if self._book.get(Bottle, key) is None:
                raise refuse("reference-missing", kind="Bottle", key=key)
        if len(set(samples)) < len(samples):
            raise refuse("same-sample")
        sets = planned_sets(method, len(samples), count, rng or SystemRandom())
        code = self._book.next_code(BlindTest, "B-")
        fresh = BlindTest(
            code=code, method=method, samples=samples, sets=sets, at=self._book.now(), question=question, alpha=alpha,
            project=project, sitting=sitting, shuffled=shuffled,
        )  # fmt: skip
        planned: BlindTest = self._put(fresh, what=f"blind test {code}")[0]
        return planned

    def answer(self, test: int, place: int, chosen: str = "", *, right: bool | None = None, note: str = "") -> Answer:
        """What the nose said of one set, on disk at once; a second answer to a set replaces the first.

        Raises Refused `code-unknown`, `ranks-missing`, `answer-missing` for one that says nothing, `answer-late` for a test that
        was revealed.
        """
        standing = self._known(test)
        if standing.revealed_at is not None:
            raise refuse("answer-late", code=standing.code)
        if not 0 <= place < len(standing.sets):
            raise refuse("answers-range", n=place + 1, most=len(standing.sets))
        given = " ".join(chosen.split())
        if right is None and not given:
            raise refuse("answer-missing")
        if given and standing.method == RANKING:
            ranks_of(standing.sets[place], given)
        elif given and given not in codes_of(standing.sets[place]):
            raise refuse("code-unknown", code=given, served=codes_of(standing.sets[place]))
        before = self.answers(test).get(place)
        fresh = Answer(
            test=test, place=place, at=self._book.now(), chosen=given, right=right, note=note,
            replaces=None if before is None else before.key,
        )  # fmt: skip
        kept: Answer = self._put(fresh, what=f"answer {place + 1} of {standing.code}")[0]
        return kept

    def reveal(self, test: int) -> BlindTest:
        """Opens the seal; no answer is taken any more. Raises Refused `not-sealed`."""
        standing = self._known(test)
        if standing.revealed_at is not None:
            raise refuse("not-sealed", code=standing.code)
        opened: BlindTest = self._put(
            replace(standing, revealed_at=self._book.now()), what=f"blind test {standing.code} revealed"
        )[0]
        return opened

    def _known(self, test: int) -> BlindTest:
        """The test with its key."""
        standing: BlindTest | None = self._store.get(KINDS[BlindTest], test)
        if standing is None:
            raise refuse("reference-missing", kind="BlindTest", key=test)
        return standing

# SPDX-License-Identifier: MIT
"""The kept words of the book as they are shown: a kind, a state or a way is an English word there, and is looked up here.

Each table is {word that is kept: text that is shown}; `forms.py` has the forms of a material, which may be one's own word too.
"""

from __future__ import annotations

from collections.abc import Mapping

from desktop.language import tr
from perfumery.limits import CLOSE, FINE, OVER
from perfumery.methods import DUO_TRIO, PAIRED, PAIRED_ONE_SIDED, THREE_AFC, TRIANGLE
from perfumery.smelled import RANKING

VERSIONS = {
    "draft": tr("draft"), "frozen": tr("frozen"), "chosen": tr("chosen"), "rejected": tr("rejected"), "retired": tr("retired"),
}  # fmt: skip
BOTTLES = {
    "bought": tr("as bought"), "dilution": tr("dilution"), "accord": tr("accord"), "trial": tr("trial vial"),
    "smelling": tr("smelling dilution"), "batch": tr("batch"), "product": tr("product"), "retained": tr("retained"),
    "benchmark": tr("benchmark"),
}  # fmt: skip
SERVICES = {"re-test": tr("re-test"), "dropper cap": tr("dropper cap"), "ready": tr("solution ready")}
MODES = {
    "tare each": tr("tare each"), "running total": tr("running total"), "by difference": tr("by difference"),
    "not weighed": tr("not weighed"),
}  # fmt: skip
STRIPS = {"paper": tr("paper"), "skin": tr("skin")}
METHODS = {
    TRIANGLE: tr("triangle"), DUO_TRIO: tr("duo-trio"), PAIRED: tr("paired"), PAIRED_ONE_SIDED: tr("paired one-sided"),
    THREE_AFC: "3-AFC", RANKING: tr("ranking"),
}  # fmt: skip
LIMITS = {FINE: tr("fine"), CLOSE: tr("close"), OVER: tr("over")}


def shown(table: Mapping[str, str], word: str) -> str:
    """A kept word as it is shown; one that is in no table as it stands."""
    return table.get(word, word)

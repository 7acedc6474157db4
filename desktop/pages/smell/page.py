# SPDX-License-Identifier: MIT
"""Smell: sittings with their stand, the figures of all strips, blind tests, and the words of months."""

from __future__ import annotations

from typing import Any

from desktop.language import tr
from desktop.pages.views import ViewsPage
from perfumery import BlindTest, Sitting, Strip


class SmellPage(ViewsPage):
    """The page."""

    TITLE = tr("Smell")
    VIEWS = {
        "sittings": ("desktop.pages.smell.sitting", "SittingView"),
        "figures": ("desktop.pages.smell.figures_view", "FiguresView"),
        "blind tests": ("desktop.pages.smell.tests_view", "BlindTestsView"),
        "words": ("desktop.pages.smell.words_view", "WordsView"),
    }
    WORDS = {
        "sittings": tr("sittings"), "figures": tr("figures"), "blind tests": tr("blind tests"), "words": tr("words"),
    }  # fmt: skip

    def go_to(self, value: Any) -> None:
        """Shows a sitting, a strip or a blind test."""
        if isinstance(value, Sitting | Strip):
            self.show_view("sittings").go_to(value)
        elif isinstance(value, BlindTest):
            self.show_view("blind tests").go_to(value)

    def read_strip(self, strip: Strip) -> None:
        """Opens the reading of a strip in its sitting."""
        self.show_view("sittings").read_strip(strip)

    def dip_these(self, bottles: tuple[int, ...]) -> None:
        """Marks vials to be dipped one after the other in a sitting of now."""
        self.show_view("sittings").dip_these(bottles)

    def plan_test(self, samples: tuple[int, ...]) -> None:
        """Opens the plan of a triangle test of these bottles."""
        self.show_view("blind tests").plan_these(samples)

# SPDX-License-Identifier: MIT
"""How a weighing is read from the balance, as it is chosen before a plan is weighed: a running total says where to stop."""

from __future__ import annotations

from desktop.language import tr
from desktop.models.shown import MODES

TARE_EACH, RUNNING_TOTAL, BY_DIFFERENCE = "tare each", "running total", "by difference"
CHOICES = {TARE_EACH: MODES[TARE_EACH], RUNNING_TOTAL: tr("stop at"), BY_DIFFERENCE: MODES[BY_DIFFERENCE]}

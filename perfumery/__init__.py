# SPDX-License-Identifier: MIT
"""What the trade computes: pure functions on frozen values. No Qt, SQL, clock, file, setting or sentence.

Words: *part* a line's quantity in a formula; *share* a fraction of the whole; *strength* a mass fraction of a material in
what it is diluted in; *neat parts* parts without carriers; *odorant* what is not a carrier.
"""

from perfumery.compose import Composition, Row, accord_within, compose, price_findings, resolved, share_within
from perfumery.curves import StripFigures, strip_figures
from perfumery.difference import Difference, difference
from perfumery.dilution import Dilution, Pour, dilute, mixed, mixed_u, strengthen, weaken
from perfumery.discrimination import Discrimination, duo_trio, needed, paired, three_afc, triangle
from perfumery.distance import dprime, share_right
from perfumery.drops import drops_mass
from perfumery.exchanging import Exchange, exchange, rescaled
from perfumery.findings import Finding, Refused
from perfumery.instants import instant
from perfumery.ladders import dose_series, doses, ladder
from perfumery.ledger import Drift
from perfumery.limits import LimitsFound, limit_findings, limits, most_parts
from perfumery.noise import Dipped, OwnNoise, RepeatPair, own_noise, repeat_pairs
from perfumery.nose import Nose, relative, todays_nose
from perfumery.numbers import parse_hour, parse_number, parse_strength, to_step, weighable
from perfumery.overpour import Cure, cures
from perfumery.planning import Effort, trials
from perfumery.ranks import Ranking, Trend, ranking, trend
from perfumery.rest import Pacing, pacing
from perfumery.serving import blind_codes, williams
from perfumery.shelf import Shelf, neat_prices, offered_first, reached
from perfumery.side_by_side import SideBySide, aligned_materials, side_by_side
from perfumery.smelling import area, at_due, crossing, curve_figures, due_points, next_due, series, time_below
from perfumery.stand import Stagger, hours_of, is_open, stagger
from perfumery.values import (
    Answer,
    Balance,
    BenchCheck,
    BlindTest,
    Bottle,
    Constituent,
    Contents,
    Decision,
    Habit,
    Limit,
    Line,
    Making,
    Material,
    Move,
    Note,
    Planned,
    Project,
    Property,
    Reading,
    Sitting,
    Strip,
    Value,
    Version,
    Word,
)
from perfumery.weighing import (
    largest_amount,
    least_weight,
    line_error,
    missed_tare,
    repeatability,
    share_errors,
)

__all__ = [
    "Answer",
    "Balance",
    "BenchCheck",
    "BlindTest",
    "Bottle",
    "Composition",
    "Cure",
    "Constituent",
    "Contents",
    "Decision",
    "Difference",
    "Dilution",
    "Dipped",
    "Discrimination",
    "Drift",
    "Effort",
    "Exchange",
    "Finding",
    "Habit",
    "Limit",
    "LimitsFound",
    "Line",
    "Making",
    "Material",
    "Move",
    "Nose",
    "Note",
    "OwnNoise",
    "Pacing",
    "Planned",
    "Pour",
    "Project",
    "Property",
    "Ranking",
    "Reading",
    "Refused",
    "RepeatPair",
    "Row",
    "Shelf",
    "SideBySide",
    "Sitting",
    "Stagger",
    "Strip",
    "StripFigures",
    "Trend",
    "Value",
    "Version",
    "Word",
    "accord_within",
    "aligned_materials",
    "area",
    "at_due",
    "blind_codes",
    "compose",
    "crossing",
    "cures",
    "curve_figures",
    "difference",
    "dilute",
    "dose_series",
    "doses",
    "dprime",
    "drops_mass",
    "due_points",
    "duo_trio",
    "exchange",
    "hours_of",
    "instant",
    "is_open",
    "ladder",
    "largest_amount",
    "least_weight",
    "limit_findings",
    "limits",
    "line_error",
    "missed_tare",
    "most_parts",
    "mixed",
    "mixed_u",
    "neat_prices",
    "needed",
    "paired",
    "next_due",
    "offered_first",
    "own_noise",
    "pacing",
    "parse_hour",
    "parse_number",
    "parse_strength",
    "price_findings",
    "ranking",
    "reached",
    "relative",
    "repeat_pairs",
    "repeatability",
    "rescaled",
    "resolved",
    "series",
    "share_errors",
    "share_right",
    "share_within",
    "side_by_side",
    "stagger",
    "strengthen",
    "strip_figures",
    "three_afc",
    "time_below",
    "to_step",
    "todays_nose",
    "trend",
    "trials",
    "triangle",
    "weaken",
    "weighable",
    "williams",
]

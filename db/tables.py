# SPDX-License-Identifier: MIT
"""Today's tables as SQLAlchemy Core sees them. The file itself is made by the ladder; a test holds the two equal."""

from __future__ import annotations

from typing import Any

from sqlalchemy import REAL, Column, Integer, MetaData, Table, Text

METADATA = MetaData()


def _need(name: str, kind: type[Any]) -> Column[Any]:
    return Column(name, kind, nullable=False)


def _may(name: str, kind: type[Any]) -> Column[Any]:
    return Column(name, kind, nullable=True)


def _table(name: str, *columns: Column[Any]) -> Table:
    return Table(name, METADATA, Column("key", Integer, primary_key=True), *columns)


BOOK = Table(
    "book", METADATA, Column("only_row", Integer, primary_key=True), _need("uid", Text), _need("name", Text),
    _need("currency", Text), _need("next_key", Integer), _need("changes", Integer),
)  # fmt: skip
MATERIAL = _table(
    "material", _need("name", Text), _need("cas", Text), _need("form", Text), _need("is_carrier", Integer),
    _need("bench_name", Text), _need("inci", Text), _need("botanical", Text), _need("synonyms", Text),
    _need("words", Text), _need("properties", Text), _may("retest_months", Integer), _need("storage", Text),
    _may("retired_on", Text),
)  # fmt: skip
BOTTLE = _table(
    "bottle", _need("code", Text), _need("kind", Text), _need("label", Text), _may("material", Integer),
    _may("version", Integer), _may("price_per_g", REAL), _may("tare_g", REAL), _need("strength", REAL),
    _may("carrier", Integer), _need("lot", Text), _need("supplier", Text), _need("supplier_no", Text),
    _may("received_on", Text), _may("opened_on", Text), _need("container", Text), _need("liner", Text),
    _may("dropper_on", Text), _may("retest_on", Text), _need("place", Text), _need("remark", Text),
    _may("gone_on", Text), _need("tare_inferred", Integer), _may("volume_ml", REAL), _may("ready_on", Text),
)  # fmt: skip
CONTENTS = _table(
    "contents", _need("bottle", Integer), _need("at", Integer), _need("off", Integer), _need("reason", Text)
)
CONTENT_SHARE = Table(
    "content_share", METADATA, Column("contents", Integer, primary_key=True),
    Column("material", Integer, primary_key=True), _need("share", REAL),
)  # fmt: skip
PROJECT = _table(
    "project", _need("code", Text), _need("name", Text), _need("brief", Text), _may("benchmark", Integer),
    _may("price_ceiling", REAL), _may("strength", REAL), _may("carrier", Integer), _need("amount_g", REAL),
    _need("reading_times", Text), _may("started_on", Text), _may("retired_on", Text), _need("category", Text),
)  # fmt: skip
VERSION = _table(
    "version", _need("project", Integer), _need("code", Text), _may("parent", Integer), _need("reason", Text),
    _may("takes_from", Integer), _need("name", Text), _need("total", REAL), _need("made_at", Integer),
    _need("made_off", Integer), _may("frozen_at", Integer), _may("frozen_off", Integer), _need("starred", Integer),
    _may("retired_on", Text),
)  # fmt: skip
LINE = _table(
    "line", _need("version", Integer), _need("position", Integer), _need("parts", REAL), _may("material", Integer),
    _may("accord", Integer), _need("strength", REAL), _may("carrier", Integer), _need("fill_up", Integer),
    _need("held", Integer), _may("as_carrier", Integer), _need("remark", Text),
)  # fmt: skip
BALANCE = _table(
    "balance", _need("name", Text), _need("d_g", REAL), _may("s_g", REAL), _may("max_g", REAL),
    _may("accuracy_g", REAL), _may("retired_on", Text),
)  # fmt: skip
MAKING = _table(
    "making", _need("kind", Text), _need("into_bottle", Integer), _need("started_at", Integer),
    _need("started_off", Integer), _may("code", Text), _may("version", Integer), _may("balance", Integer),
    _need("mode", Text), _may("target_g", REAL), _may("finished_at", Integer), _may("finished_off", Integer),
    _need("remark", Text), _need("plan", Text),
)  # fmt: skip
MOVE = _table(
    "move", _need("at", Integer), _need("off", Integer), _need("kind", Text), _need("mass_g", REAL),
    _may("from_bottle", Integer), _may("to_bottle", Integer), _may("target_g", REAL), _may("read_g", REAL),
    _may("u_g", REAL), _may("making", Integer), _may("line", Integer), _may("contents", Integer),
    _may("replaces", Integer), _need("remark", Text), _need("estimated", Integer),
)  # fmt: skip
BENCH_CHECK = _table(
    "bench_check", _need("balance", Integer), _need("at", Integer), _need("off", Integer), _need("weight_g", REAL),
    _need("readings", Text), _may("level_ok", Integer), _may("warm_up_min", REAL), _need("remark", Text),
    _may("replaces", Integer),
)  # fmt: skip
SITTING = _table(
    "sitting", _need("at", Integer), _need("off", Integer), _need("code", Text), _need("purpose", Text),
    _may("temp_c", REAL), _may("rh_percent", REAL), _need("cold", Integer), _need("scented", Integer),
    _need("tired", Integer), _may("benchmark", Integer), _need("blind", Integer), _may("revealed_at", Integer),
    _may("revealed_off", Integer), _may("clock_at", Integer), _may("clock_off", Integer), _need("shuffled", Integer),
)  # fmt: skip
STRIP = _table(
    "strip", _need("code", Text), _need("bottle", Integer), _need("dipped_at", Integer), _need("dipped_off", Integer),
    _need("kind", Text), _may("sitting", Integer), _may("strength", REAL), _may("carrier", Integer),
    _need("wearer", Text), _need("site", Text), _may("amount_g", REAL), _need("blind_code", Text),
    _need("reading_times", Text), _may("closed_at", Integer), _may("closed_off", Integer),
)  # fmt: skip
READING = _table(
    "reading", _need("strip", Integer), _need("at", Integer), _need("off", Integer), _may("due_s", REAL),
    _may("intensity", REAL), _may("distance_cm", REAL), _may("liking", Integer), _need("words", Text),
    _need("note", Text), _need("entered_at", Integer), _need("entered_off", Integer), _may("replaces", Integer),
    _need("withdrawn", Integer),
)  # fmt: skip
BLIND_TEST = _table(
    "blind_test", _need("code", Text), _need("method", Text), _need("samples", Text), _need("sets", Text), _need("at", Integer),
    _need("off", Integer), _need("question", Text), _need("alpha", REAL), _may("project", Integer), _may("sitting", Integer),
    _need("shuffled", Integer), _may("revealed_at", Integer), _may("revealed_off", Integer), _need("remark", Text),
)  # fmt: skip
ANSWER = _table(
    "answer", _need("test", Integer), _need("place", Integer), _need("at", Integer), _need("off", Integer),
    _need("chosen", Text), _may("right", Integer), _need("note", Text), _may("replaces", Integer),
)  # fmt: skip
HABIT = _table("habit", _need("name", Text), _need("value", REAL))
WORD = _table("word", _need("text", Text), _need("group", Text), _may("same_as", Integer))
NOTE = _table(
    "note", _need("text", Text), _need("at", Integer), _need("off", Integer), _may("material", Integer),
    _may("bottle", Integer), _may("version", Integer), _may("project", Integer), _need("stage", Text),
    _may("replaces", Integer),
)  # fmt: skip
DECISION = _table(
    "decision", _need("project", Integer), _need("made_on", Text), _need("chosen", Text), _need("reason", Text),
    _need("rejected", Text), _need("code", Text), _may("replaces", Integer), _need("evidence", Text), _need("costs", Text),
)  # fmt: skip
USE_LIMIT = _table(
    "use_limit", _need("name", Text), _need("share_max", REAL), _need("category", Text), _need("cas", Text),
    _may("material", Integer), _need("budget", Text), _need("source", Text), _may("dated_on", Text), _need("remark", Text),
    _may("retired_on", Text),
)  # fmt: skip
CONSTITUENT = _table(
    "constituent", _need("whole", Integer), _need("name", Text), _need("cas", Text), _may("low", REAL), _may("typical", REAL),
    _may("high", REAL), _need("source", Text), _need("applies", Integer), _need("remark", Text), _may("retired_on", Text),
)  # fmt: skip

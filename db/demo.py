# SPDX-License-Identifier: MIT
"""The demo studio: an invented perfumer's book, put through the same door as real work.

Studio, project, formulas, prices, dates and readings are invented; CAS numbers are real. Nothing in it is safety-assessed.
"""

from __future__ import annotations

import json
import re
from datetime import date, datetime, timedelta, timezone
from pathlib import Path
from random import Random
from typing import Any

import resources
from db.book import Book
from db.whole import Clock
from perfumery import (
    Answer,
    Balance,
    BenchCheck,
    BlindTest,
    Bottle,
    Constituent,
    Contents,
    Decision,
    Limit,
    Line,
    Making,
    Material,
    Move,
    Note,
    Project,
    Reading,
    Sitting,
    Strip,
    Value,
    Version,
    Word,
    weighing,
)
from perfumery.blind import codes_of, is_right, planned_sets
from perfumery.ledger import months_after

_SUMMER = datetime(2025, 3, 30, 2, 0)  # noqa: DTZ001 - wall time of the invented studio
_KINDS = {"as bought": "bought", "trial vial": "trial", "smelling dilution": "smelling"}
_STAGE_AFTER = {"fresh": timedelta(minutes=2), "1 h": timedelta(hours=1), "next day": timedelta(days=1)}
_DUE_S = {"min": 60.0, "h": 3600.0, "d": 86400.0}
_FORMS = (
    ("crystal", "crystals"),
    ("powder", "powder"),
    ("paste", "paste"),
    ("absolute", "absolute"),
    ("essential oil", "essential oil"),
    ("viscous", "viscous liquid"),
    ("solvent", "solvent"),
    ("diluent", "solvent"),
)
CATEGORY = "eau de toilette"
_SHORT = {"S02": ("DPG",), "S03": ("TEC",), "S04": ("IPM",)}
CAUTION = (
    "Invented demonstration data. Not a safety-assessed formula: before anything touches skin or is sold, a qualified safety "
    "assessor and your local law decide."
)


def make(path: Path | str, clock: Clock | None = None) -> Book:
    """Makes the demo studio's book at a path where nothing stands, and opens it."""
    data = json.loads(resources.read_text("demo.json"))
    book = Book.create(path, data["studio"]["name"], "EUR", clock)
    try:
        book.put(*_Studio(book, data).values(), what="demo studio")
    except BaseException:
        book.close()
        Path(path).unlink(missing_ok=True)
        raise
    return book


def _when(text: str) -> datetime:
    wall = datetime.fromisoformat(text)
    return wall.replace(tzinfo=timezone(timedelta(hours=2 if wall >= _SUMMER else 1)))


def _due_s(label: str) -> float:
    number, unit = label.split()
    return float(number) * _DUE_S[unit]


def _volume(container: str) -> float | None:
    """'amber glass bottle 30 ml' → 30."""
    found = re.search(r"(\d+) ml", container)
    return None if found is None else float(found[1])


def _words(text: str) -> dict[str, int]:
    return {word.strip(): int(weight) for word, weight in re.findall(r"([^:]+?):(\d)", text)}


class _Studio:
    """Turns the demonstration data into values that refer to each other by fresh keys."""

    def __init__(self, book: Book, data: dict[str, Any]) -> None:
        self._data = data
        self._new = book.new_key
        ids = [m["id"] for m in data["materials"]] + [b["code"] for b in data["bottles"]]
        ids += data["formulas"]
        ids += [f"accord {code}" for code in data["accords"]] + [f"balance {b['id']}" for b in data["balances"]]
        self._key = {name: self._new() for name in ids}
        self._project = self._new()
        self._stock = {s["id"]: s for s in data["stocks"]}
        self._bottle = {b["code"]: b for b in data["bottles"]}
        self._trial = {t["trial"]: t for t in data["trials"]}
        self._line: dict[tuple[str, str], int] = {}
        self._shares: dict[str, dict[int, float]] = {}
        self._state: dict[str, int] = {}
        self._found_u: dict[str, float] = {}
        self._strip = {s["strip"]: self._new() for s in data["strips"]} | {data["wear"][0]["wear"]: self._new()}

    def values(self) -> list[Value]:
        """Everything, what is referred to before what refers, masses in the order they moved."""
        return [
            *self._shelf(), *self._limits(), *self._formulas(), *self._bottles(), *self._masses(), *self._smelling(),
            *self._tests(), *self._writing(),
        ]

    def _shelf(self) -> list[Value]:
        found: list[Value] = []
        groups = {word: group for group, words in self._data["words"].items() for word in words}
        key = {word: self._new() for word in groups}
        found += [Word(text=word, group=group, key=key[word]) for word, group in groups.items()]
        for text, meant in self._data["word_synonyms"].items():
            same = key.get(meant)
            found.append(Word(text=text, group="" if same else str(meant), same_as=same))
        for m in self._data["materials"]:
            form = m["form"].casefold()
            known = next((ours for theirs, ours in _FORMS if theirs in form.split(";")[0]), "liquid")
            latin = re.search(r"\(([A-Z][a-z]+ [a-z]+[^)]*)\)", m["name"])
            found.append(
                Material(
                    name=m["name"], cas=m["cas"], form=known, is_carrier=m["id"].startswith("S"), bench_name=m["bench_name"],
                    botanical=latin[1] if latin else "", words=tuple(m.get("smell_words") or ()),
                    retest_months=m["retest_months"], storage=m["storage"],
                    synonyms=_SHORT.get(m["id"], ()), key=self._key[m["id"]],
                )
            )
        for b in self._data["balances"]:
            balance = Balance(name=f"{b['id']} {b['model']}", d_g=b["d_g"], s_g=b["s_g"], max_g=b["capacity_g"],
                              key=self._key[f"balance {b['id']}"])  # fmt: skip
            self._found_u[b["id"]] = weighing.found_u(balance)
            found.append(balance)
            test = b.get("repeatability_test")
            if test and test["readings_g"]:
                found.append(
                    BenchCheck(balance=self._key[f"balance {b['id']}"], at=_when(f"{test['date']}T09:00"),
                               weight_g=test["nominal_g"], readings=tuple(test["readings_g"]), remark=test["note"])
                )  # fmt: skip
        for check in self._data["balance_checks"]:
            found.append(
                BenchCheck(balance=self._key[f"balance {check['balance']}"], at=_when(check["at"]),
                           weight_g=check["check_weight_g"], readings=(check["read_g"],), level_ok=check["level_ok"],
                           warm_up_min=check["warm_up_min"])
            )  # fmt: skip
        return found

    def _formulas(self) -> list[Value]:
        p = self._data["project"]
        found: list[Value] = [
            Project(
                code=p["code"], name=p["name"], brief=p["brief"], benchmark=self._key["H-0"], price_ceiling=0.15,
                strength=0.12, carrier=self._key["S01"], amount_g=5.0, started_on=p["started"], category=CATEGORY,
                key=self._project,
            )
        ]
        for code, accord in self._data["accords"].items():
            made = _when(self._bottle[code]["lines"][0]["at"]) - timedelta(days=1)
            found.append(self._version(f"accord {code}", code, accord["parts"], made, name=accord["name"]))
        states = {s["formula"]: s for s in self._data["version_states"]}
        for place in self._data["lineage"]:
            code = place["formula"]
            trials = states[code]["trials"]
            # drafted the day before it was first weighed; the one never weighed after the last decision
            made = _when(self._trial[trials[0]]["started_at"] if trials else f"{self._data['decisions'][-1]['date']}T18:00")
            parent, takes = place["parent"], place.get("takes_from")
            found.append(
                self._version(
                    code, code, self._data["formulas"][code]["parts"], made - timedelta(days=1 if trials else 0),
                    reason=place["why"], parent=None if parent is None else self._key[parent],
                    takes_from=None if takes is None else self._key[takes], starred=code == "SR-4",
                )
            )
        return found

    def _version(self, ident: str, code: str, parts: dict[str, float], made_at: datetime, **more: Any) -> Version:
        lines = []
        for what, amount in parts.items():
            key = self._line[ident, what] = self._new()
            if what in self._data["accords"]:
                lines.append(Line(parts=amount, accord=self._key[f"accord {what}"], key=key))
            elif what in self._stock:
                stock = self._stock[what]
                lines.append(
                    Line(parts=amount, material=self._key[stock["material"]], strength=stock["strength_w_w"],
                         carrier=self._key[stock["solvent"]], key=key)
                )
            else:
                lines.append(Line(parts=amount, material=self._key[what], key=key))
        return Version(project=self._project, code=code, lines=tuple(lines), made_at=made_at, key=self._key[ident], **more)

    def _bottles(self) -> list[Value]:
        found: list[Value] = []
        for b in self._data["bottles"]:
            version = self._key[f"accord {b['accord']}"] if "accord" in b else None
            if "trial" in b:
                version = self._key[self._trial[b["trial"]]["formula"]]
            material = self._key[b["material"]] if "material" in b else None
            strength = b.get("strength_w_w") or b.get("nominal_strength_w_w") or 1.0
            carrier = b.get("carrier")
            label = b.get("bench_name") or next(m["bench_name"] for m in self._data["materials"] if m["id"] == b["material"])
            found.append(
                Bottle(
                    code=b["code"], kind=_KINDS.get(b["kind"], b["kind"]), label=label, material=material, version=version,
                    price_per_g=b["price_eur"] / b["ordered_g"] if b.get("price_eur") is not None else None,
                    tare_g=b["tare_g"], strength=strength, carrier=self._key[carrier] if carrier else None,
                    lot=b.get("own_lot") or "", supplier=b.get("supplier") or "", supplier_no=b.get("supplier_stock_no") or "",
                    received_on=b.get("received"), opened_on=b.get("opened"), container=b["container"], liner=b["cap_liner"],
                    dropper_on=b.get("dropper_since"), place=b["place"] or "",
                    remark=b.get("note") or b.get("contents_note") or "", retest_on=self._retest_on(b),
                    volume_ml=_volume(b["container"]),
                    key=self._key[b["code"]],
                )
            )
        return found

    def _retest_on(self, b: dict[str, Any]) -> date | None:
        """What was made here has its months counted from the day it was made; a bought bottle's follow from its material."""
        if "made_at" not in b or not b.get("retest_months"):
            return None
        return months_after(_when(b["made_at"]).date(), b["retest_months"])

    def _masses(self) -> list[Value]:
        """The ledger in order: receipts, makings with their pours and contents, strips, other use, re-weighings."""
        found: list[Value] = []
        for entry in self._data["ledger"]:
            code, at, event = entry["bottle"], _when(entry["at"]), entry["event"]
            key, mass = self._key[code], entry["mass_g"]
            if event == "received" or (event == "made" and code == "H-0"):
                found.append(Move(at=at, kind="received", mass_g=mass, to_bottle=key, remark=entry["why"]))
                if code != "H-0":
                    b = self._bottle[code]
                    shares = {self._key[b["material"]]: b["strength_w_w"]}
                    if b["carrier"]:
                        shares[self._key[b["carrier"]]] = 1 - b["strength_w_w"]
                    found.append(self._contents(code, at, shares, "bought"))
            elif event == "made":
                found += self._making(code)
            elif event == "reweighed":
                found.append(
                    Move(at=at, kind="found", mass_g=entry["found_g"], to_bottle=key, read_g=entry["gross_g"],
                         u_g=self._found_u[entry["balance"]],
                         remark=f"{entry['why']}, balance {entry['balance']}, gross read")
                )
            elif entry["ref"] is None:
                found.append(Move(at=at, kind="used", mass_g=-mass, from_bottle=key, remark=entry["why"]))
            elif entry["why"] in ("strip", "skin"):
                found.append(Move(at=at, kind="strip", mass_g=-mass, from_bottle=key, remark=entry["ref"]))
        return found

    def _making(self, code: str) -> list[Value]:
        """One making: the bottle it filled, the pours that filled it, and what it holds from then on."""
        b = self._bottle[code]
        trial = self._trial.get(b.get("trial", "")) if b["kind"] == "trial vial" else None
        name = f"accord {b['accord']}" if "accord" in b else (trial["formula"] if trial else "")
        if trial:
            pours = trial["lines"]
            started, ended = _when(trial["started_at"]), _when(trial["ended_at"])
        elif "lines" in b:
            pours = b["lines"]
            started, ended = _when(pours[0]["at"]), _when(b["made_at"])
        else:
            pours = [{"bottle": p["bottle"], "read_g": p["mass_g"], "at": b["made_at"]} for p in b["made_from"]]
            started = ended = _when(b["made_at"])
        making = self._new()
        version = self._key[name] if name else None
        if b["kind"] == "smelling dilution":
            version = self._key[self._trial[b["trial"]]["formula"]]
        source = trial or b
        found: list[Value] = [
            Making(
                kind=_KINDS.get(b["kind"], b["kind"]), code=trial["trial"] if trial else None, into_bottle=self._key[code],
                version=version, balance=self._key[f"balance {source['balance']}"], mode=source["mode"],
                target_g=source.get("target_total_g") or source.get("target_g"), started_at=started, finished_at=ended,
                remark=(trial or {}).get("note", ""), key=making,
            )
        ]
        mixed: dict[int, float] = {}
        for pour in pours:
            inside = self._shares[pour["bottle"]]
            for material, share in inside.items():
                mixed[material] = mixed.get(material, 0.0) + share * pour["read_g"]
            found.append(
                Move(
                    at=_when(pour["at"]), kind="pour", mass_g=pour["read_g"], from_bottle=self._key[pour["bottle"]],
                    to_bottle=self._key[code], target_g=pour.get("target_g"), read_g=pour["read_g"], making=making,
                    line=self._line.get((name, pour.get("line", ""))), contents=self._state[pour["bottle"]],
                )
            )
        total = sum(mixed.values())
        found.append(self._contents(code, ended, {material: mass / total for material, mass in mixed.items()}, "made"))
        return found

    def _contents(self, code: str, at: datetime, shares: dict[int, float], reason: str) -> Contents:
        self._shares[code] = shares
        self._state[code] = self._new()
        return Contents(bottle=self._key[code], at=at, shares=shares, reason=reason, key=self._state[code])

    def _smelling(self) -> list[Value]:
        found: list[Value] = []
        sitting = {s["id"]: self._new() for s in self._data["sittings"]}
        within = {strip: s["id"] for s in self._data["sittings"] for strip in s["strips"]}
        for s in self._data["sittings"]:
            found.append(
                Sitting(
                    at=_when(s["start"]), code=s["id"], purpose=s["purpose"], temp_c=s["room_c"], rh_percent=s["room_rh"],
                    cold=s["cold"], scented=s["scented"], tired=s["tired"], blind=s["blind"],
                    revealed_at=None if s["revealed_at"] is None else _when(s["revealed_at"]),
                    benchmark=self._key["H-0"] if s["benchmark_present"] else None, key=sitting[s["id"]],
                )
            )
        ethanol = self._key["S01"]
        strip = self._strip
        own: dict[str, list[dict[str, Any]]] = {}
        for r in self._data["readings"]:
            own.setdefault(r["strip"], []).append(r)
        for s in self._data["strips"]:
            b = self._bottle[s["bottle"]]
            thinned = b["kind"] in ("smelling dilution", "benchmark")
            found.append(
                Strip(
                    code=s["strip"], bottle=self._key[s["bottle"]], dipped_at=_when(s["dipped_at"]),
                    sitting=sitting[within[s["strip"]]], strength=0.12 if thinned else b.get("nominal_strength_w_w", 1.0),
                    carrier=ethanol if thinned or b.get("carrier") else None, amount_g=s["amount_g"],
                    blind_code=s["blind_code"], reading_times=tuple(sorted({_due_s(r["due"]) for r in own[s["strip"]]})),
                    closed_at=_when(own[s["strip"]][-1]["read_at"]), key=strip[s["strip"]],
                )
            )
            for r in own[s["strip"]]:
                found.append(self._reading(r, strip[s["strip"]], r.get("first_noticed_cm")))
        worn = self._data["wear"]
        skin = strip[worn[0]["wear"]]
        found.append(
            Strip(
                code=worn[0]["wear"], bottle=self._key[worn[0]["bottle"]], dipped_at=_when(worn[0]["applied_at"]), kind="skin",
                strength=0.12, carrier=ethanol, wearer="the perfumer (invented)", site=worn[0]["site"].split(",")[0],
                amount_g=worn[0]["amount_g"], reading_times=tuple(_due_s(w["due"]) for w in worn),
                closed_at=_when(worn[-1]["read_at"]), key=skin,
            )
        )
        return found + [self._reading(w, skin, None) for w in worn]

    def _tests(self) -> list[Value]:
        """Blind tests as they were planned and answered: every time with a code that is right, or one that is not."""
        found: list[Value] = []
        for one in self._data["blind_tests"]:
            at, answers = _when(one["planned"]), one["right"]
            sets = planned_sets(one["method"], 2, len(answers), Random(one["seed"]))
            test = BlindTest(
                code=one["id"], method=one["method"], samples=tuple(self._key[code] for code in one["samples"]), sets=sets, at=at,
                project=self._project, revealed_at=_when(one["revealed_at"]), remark=one["remark"], key=self._new(),
            )  # fmt: skip
            assert test.key is not None
            found.append(test)
            for place, is_meant in enumerate(answers):
                asked = next(code for code in codes_of(sets[place]) if is_right(one["method"], sets[place], code) is is_meant)
                read_at = at + timedelta(minutes=one["minutes_apart"] * (place + 1))
                found.append(Answer(test=test.key, place=place, at=read_at, chosen=asked))
        return found

    @staticmethod
    def _reading(r: dict[str, Any], strip: int, distance_cm: float | None) -> Reading:
        return Reading(
            strip=strip, at=_when(r["read_at"]), due_s=_due_s(r["due"]), intensity=r["intensity_0_6"], distance_cm=distance_cm,
            liking=r["hedonic_m4_p4"], words=_words(r["descriptors"]), note=r["note"], entered_at=_when(r["read_at"]),
        )

    def _limits(self) -> list[Value]:
        """What naturals hold, from the sources named there, and limits that are invented."""
        cas = {m["id"]: m["cas"] for m in self._data["materials"]}
        found: list[Value] = []
        for c in self._data["constituents"]:
            low, typical, high = (None if c[name] is None else c[name] / 100 for name in ("min_pct", "typical_pct", "max_pct"))
            found.append(
                Constituent(
                    whole=self._key[c["material"]], name=c["constituent"], cas=c["cas"], low=low, typical=typical, high=high,
                    source=c["source"], applies=c["applies"], remark=c["why_not"] or c["note"],
                )
            )
        for one in self._data["limits_demo"]:
            material = one.get("material") or one.get("counts_material")
            found.append(
                Limit(
                    one["bench_name"], one["limit_pct_product"] / 100, CATEGORY, one.get("constituent_cas") or cas[material],
                    None if material is None else self._key[material], source=one["note"],
                    dated_on=self._data["project"]["started"],
                )
            )
        return found

    def _writing(self) -> list[Value]:
        found: list[Value] = [
            Note(text=CAUTION, at=_when(f"{self._data['project']['started']}T09:00"), project=self._project),
        ]
        for m in self._data["materials"]:
            for stage, after in _STAGE_AFTER.items():
                text = (m.get("note") or {}).get(stage)
                if text:
                    at = _when(f"{m['opened']}T10:00") + after
                    found.append(Note(text=text, at=at, material=self._key[m["id"]], stage=stage))
        for d in self._data["decisions"]:
            found.append(
                Decision(
                    project=self._project, made_on=d["date"], chosen=tuple(self._key[c] for c in d["chosen"]),
                    reason=d["reason"], rejected={self._key[r["formula"]]: r["reason"] for r in d["rejected"]}, code=d["id"],
                    evidence=tuple(self._strip[code] for code in d["evidence"]),
                )
            )
        return found

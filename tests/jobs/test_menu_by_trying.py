"""Every plan of tiny menus tried out, by the rules that `menu --why` prints and by nothing else of ours.

Two hundred random menus. Each plan that the rules allow is played through day by day and added up; none may
cost less than the one that is told, and where none works the menu says that something cannot be there. The
plan that is told is recounted the same way. Spirit alone is poured, so litres add up without any physics.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest

from formulate.describe.menu_record import MenuRecord
from formulate.jobs.menu import plan_menu

FIRST = date(2026, 11, 2)  # a Monday
DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
MOST_PLANS = 150_000


@dataclass(frozen=True)
class Pack:
    """One way of buying: supplier, litres, price, and the days it may come on."""

    thing: str
    supplier: str
    litres: float
    price: float
    days: tuple[int, ...] = ()


@dataclass(frozen=True)
class Batches:
    """How the house bottle is made; every batch gives the same."""

    gives: float
    takes: float
    waits: int
    keeps: int | None
    work: float
    days: tuple[int, ...]


@dataclass
class Tiny:
    """A tiny menu, as numbers and as files."""

    end: int
    start: int
    poured: dict[str, dict[int, float]]
    packs: list[Pack]
    least: dict[str, float]
    keeps: dict[str, int | None]
    there: dict[str, float]
    par: dict[str, float]
    batches: Batches | None
    files: dict[str, str] = field(default_factory=dict)


def _weekday(day: int) -> int:
    return (FIRST + timedelta(days=day)).weekday()


def _comes(
    start: int, end: int, keeps: int | None, weekdays: list[int], lead: int, *, fixed: bool
) -> list[int]:
    """List the days on which something may come, as the rules say it."""
    if weekdays:
        return [
            day
            for day in range(start, end)
            if _weekday(day) in weekdays and (not fixed or day - lead >= start)
        ]
    step = 7 if keeps is None else min(keeps, 7)
    soonest = start + (lead if fixed else 0)
    weeks = range(-70, end, 7)
    usual = [day for week in weeks for day in range(week, week + 7, step) if soonest < day < end]
    return sorted({soonest, *usual})


def _tiny(seed: int) -> Tiny:
    rng = np.random.default_rng(seed)
    makes = bool(rng.random() < 0.5)
    weeks = int(rng.integers(1, 3)) if not makes else 2
    end, fixed = 7 * weeks, bool(rng.random() < 0.4)
    lead = int(rng.integers(0, 3))
    shut = [6] if rng.random() < 0.5 else []
    takes_h = float(rng.choice([4, 24, 72])) if makes else 0.0
    waits = 0 if takes_h <= 8 else int(takes_h // 24)
    start = 0 if fixed or not waits else -7
    vermouth_keeps = None if rng.random() < 0.3 else int(rng.integers(3, 11))
    keeps: dict[str, int | None] = {"vodka-40": None, "sweet-vermouth-15": vermouth_keeps}
    sells = {"vodka-40": int(rng.integers(0, 4)) * 4, "sweet-vermouth-15": int(rng.integers(1, 4)) * 5}
    bottle_keeps = None if rng.random() < 0.4 else int(rng.integers(4, 10))
    if makes:
        sells = {"vodka-40": int(rng.integers(0, 2)) * 6, "rested": int(rng.integers(4, 17))}
        keeps["rested"] = bottle_keeps
    open_days = [day for day in range(end) if _weekday(day) not in shut]
    poured = {
        name: {day: count * 0.1 / (7 - len(shut)) for day in open_days}
        for name, count in sells.items()
        if count
    }
    if not poured:
        poured = {"vodka-40": {day: 0.4 / (7 - len(shut)) for day in open_days}}
        sells["vodka-40"] = 4
    weekly = {name: 0.1 * count for name, count in sells.items()}
    weekdays = sorted(int(day) for day in rng.choice(7, size=2, replace=False)) if rng.random() < 0.4 else []
    least = {"north": float(rng.integers(2, 6) * 10)} if rng.random() < 0.6 else {}
    sizes = [(0.7, float(rng.integers(8, 13))), (2.0, float(rng.integers(20, 33)))]
    offers = [("vodka-40", "north", *sizes[1])] if makes else [("vodka-40", "far", *sizes[0])]
    if not makes and rng.random() < 0.6:
        offers.append(("vodka-40", "north", *sizes[1]))
    if not makes:
        offers.append(("sweet-vermouth-15", "north", 1.0, float(rng.integers(7, 12))))
    needed = {name for name, count in sells.items() if count} | ({"vodka-40"} if makes else set())
    packs = [
        Pack(
            name,
            who,
            litres,
            price,
            tuple(_comes(start, end, keeps[name], weekdays if who == "north" else [], lead, fixed=fixed)),
        )
        for name, who, litres, price in offers
        if name in needed
    ]
    there = {"vodka-40": float(rng.choice([0.0, 0.35, 0.7])) if "vodka-40" in needed else 0.0}
    if makes and waits:
        there["rested"] = float(rng.choice([0.0, 0.5, 1.0]))
    par = (
        {"vodka-40": 0.5 * weekly["vodka-40"]}
        if rng.random() < 0.5 and sells["vodka-40"] and not makes
        else {}
    )
    batches = None
    if makes:
        days = sorted(int(day) for day in rng.choice(6, size=2, replace=False))
        begins = [day for day in range(start, end) if _weekday(day) in days and _weekday(day) not in shut]
        batches = Batches(
            2.0, takes_h / 24, waits, bottle_keeps, 5.0, tuple(d for d in begins if d + waits < end)
        )
        if bottle_keeps is None and rng.random() < 0.5:
            par["rested"] = 0.5 * weekly["rested"]
    tiny = Tiny(end, start, poured, packs, least, keeps, there, par, batches)
    tiny.files = _files(tiny, sells, weekdays, lead, shut, takes_h, fixed=fixed)
    return tiny


def _files(
    tiny: Tiny,
    sells: dict[str, int],
    weekdays: list[int],
    lead: int,
    shut: list[int],
    takes_h: float,
    *,
    fixed: bool,
) -> dict[str, str]:
    offers: dict[str, list[str]] = {}
    for pack in tiny.packs:
        offers.setdefault(pack.thing, []).append(
            f"{{pack: {pack.litres:g} L, price: {pack.price:g} EUR, supplier: {pack.supplier}}}"
        )
    shelf = "currency: EUR\nvessels: {jar: 4 L}\noffers:\n"
    shelf += "".join(f"  {name}: [{', '.join(ways)}]\n" for name, ways in offers.items())
    used = {pack.supplier for pack in tiny.packs}
    terms = {who: [f"lead_time: {lead} days"] for who in sorted(used)}
    if weekdays and "north" in used:
        terms["north"].append(f"delivers_on: [{', '.join(DAYS[day] for day in weekdays)}]")
    shelf += "suppliers:\n" + "".join(f"  {who}: {{{', '.join(said)}}}\n" for who, said in terms.items())
    if tiny.least and "north" in used:
        shelf += f"least_order: {{north: {tiny.least['north']:g} EUR}}\n"
    menu = f"menu: Tiny\nshelf: shelf.yaml\nfrom: 2 November 2026\nfor: {tiny.end // 7} weeks\n"
    menu += "prepare: 0 weeks\n" if fixed else ""
    menu += f"closed: [{', '.join(DAYS[day] for day in shut)}]\n" if shut else ""
    files = {
        "shelf": shelf,
        "rested": "recipe: Rested\nshelf: shelf.yaml\ningredients:\n  - vodka-40: {amount: 1 L}\n",
    }
    drinks = []
    for name, count in sells.items():
        if not count:
            continue
        house = "house: {rested: rested.yaml}\n" if name == "rested" else ""
        text = (
            f"drink: Of {name}\nshelf: shelf.yaml\nmethod: built\n{house}ingredients:\n  - {name}: 100 mL\n"
        )
        files[f"of-{name}"] = text
        drinks.append(f"{{drink: of-{name}.yaml, sells: {count} per week}}")
    pars = []
    for name in ("vodka-40", "sweet-vermouth-15"):
        said = [f"keeps: {tiny.keeps[name]} days"] if tiny.keeps[name] is not None else []
        said += [f"on_hand: {tiny.there[name]:g} L"] if tiny.there.get(name) else []
        said += ["par: 0.5 weeks"] if tiny.par.get(name) else []
        if said and any(pack.thing == name for pack in tiny.packs):
            pars.append(f"{name}: {{{', '.join(said)}}}")
    if tiny.batches is not None:
        made = f"vessel: jar, fill: 50 %, least_batch: 2 L, takes: {takes_h:g} h, labour: 5 EUR"
        made += f", keeps: {tiny.batches.keeps} days" if tiny.batches.keeps is not None else ""
        made += f", on_hand: {tiny.there['rested']:g} L" if tiny.there.get("rested") else ""
        made += ", par: 0.5 weeks" if tiny.par.get("rested") else ""
        days = sorted({_weekday(day) for day in tiny.batches.days})
        menu += f"makes_on: [{', '.join(DAYS[day] for day in days)}]\nhouse: {{rested: {{{made}}}}}\n"
    menu += f"pars: {{{', '.join(pars)}}}\n" if pars else ""
    files["menu"] = menu + f"drinks: [{', '.join(drinks)}]\n"
    return files


def _poured_through(
    tiny: Tiny, name: str, lots: dict[int, np.ndarray], out: dict[int, np.ndarray | float]
) -> tuple[np.ndarray, np.ndarray]:
    """Pour day by day, the oldest first; say what is missing, and what of lots that came is past its time."""
    keeps = tiny.keeps[name]
    there = {day: kg.copy() for day, kg in lots.items()}
    size = next(iter(lots.values())).shape
    missing, wasted = np.zeros(size), np.zeros(size)
    last: dict[int, np.ndarray | float] = {tiny.end: tiny.par.get(name, 0.0)}
    for day in range(tiny.start, tiny.end + 1):
        wanted = np.zeros(size) + (out.get(day, 0.0) if day < tiny.end else last[tiny.end])
        for came in sorted(there):
            if came > day:
                continue
            if keeps is not None and day >= came + keeps and name != "none":
                if day < tiny.end:
                    wasted += there[came]
                there[came] = np.zeros(size)
                continue
            taken = np.minimum(there[came], wanted)
            there[came] = there[came] - taken
            wanted = wanted - taken
        missing += wanted
    if keeps is not None:  # what is past its time when all is over was not poured in it either
        for came, kg in there.items():
            if came + keeps <= tiny.end:
                wasted += kg
    return missing, wasted


def _begun(tiny: Tiny) -> Iterator[tuple[int, ...]]:
    """List every choice of days to begin on for which the vessel is free."""
    if tiny.batches is None:
        yield ()
        return
    days = tiny.batches.days
    for count in range(len(days) + 1):
        for chosen in itertools.combinations(days, count):
            if all(after - before >= tiny.batches.takes for before, after in itertools.pairwise(chosen)):
                yield chosen


def _counted(
    tiny: Tiny, slots: list[tuple[Pack, int]], counts: np.ndarray, chosen: tuple[int, ...]
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return money, what is missing and what is wasted, of plans with so many packs in each slot."""
    size = len(counts)
    money = counts @ np.array([pack.price for pack, _ in slots]) if slots else np.zeros(size)
    missing, waste = np.zeros(size), np.zeros(size)
    for name in {pack.thing for pack, _ in slots} | set(tiny.poured):
        if name == "rested":
            continue
        lots = {tiny.start: np.zeros(size) + tiny.there.get(name, 0.0)}
        for number, (pack, day) in enumerate(slots):
            if pack.thing == name:
                lots[day] = lots.get(day, np.zeros(size)) + counts[:, number] * pack.litres
        out: dict[int, np.ndarray | float] = dict(tiny.poured.get(name, {}))
        if name == "vodka-40" and tiny.batches is not None:
            for day in chosen:
                out[day] = out.get(day, 0.0) + tiny.batches.gives
        missing += _poured_through(tiny, name, lots, out)[0]
    if tiny.batches is not None:
        one = tiny.batches
        lots = {tiny.start: np.zeros(1) + tiny.there.get("rested", 0.0)}
        made = {day + one.waits: np.full(1, one.gives) for day in chosen}
        short, past = _poured_through(tiny, "rested", {**lots, **made}, dict(tiny.poured["rested"]))
        if tiny.there.get("rested"):  # what was there at the start was not made
            past = (
                past
                - _poured_through(
                    tiny, "rested", {tiny.start: lots[tiny.start]}, dict(tiny.poured["rested"])
                )[1]
            )
        money = money + one.work * len(chosen)
        missing = missing + short
        cheapest = min(pack.price / pack.litres for pack in tiny.packs if pack.thing == "vodka-40")
        waste = waste + cheapest * past
    return money, missing, waste


def _least_of_all(tiny: Tiny) -> float | None:
    """Try every plan; None where none works."""
    slots = [(pack, day) for pack in tiny.packs for day in pack.days]
    total = {name: sum(days.values()) + tiny.par.get(name, 0.0) for name, days in tiny.poured.items()}
    best = np.inf
    for chosen in _begun(tiny):
        most = []
        for pack, _ in slots:
            need = total.get(pack.thing, 0.0)
            if pack.thing == "vodka-40" and tiny.batches is not None:
                need += tiny.batches.gives * len(chosen)
            fill = np.ceil(tiny.least[pack.supplier] / pack.price) if pack.supplier in tiny.least else 0
            # No more than all of the need and a whole least order: one pack less would do too.
            most.append(int(max(np.ceil(need / pack.litres - 1e-9), fill)))
        if np.prod([count + 1.0 for count in most]) > MOST_PLANS:
            return -1.0
        grids = np.meshgrid(*(np.arange(count + 1) for count in most), indexing="ij")
        counts = np.stack([grid.ravel() for grid in grids], axis=1) if slots else np.zeros((1, 0))
        keeps_rule = np.ones(len(counts), dtype=bool)
        for supplier, least in tiny.least.items():
            for day in {day for pack, day in slots if pack.supplier == supplier}:
                prices = np.array([p.price * (p.supplier == supplier and d == day) for p, d in slots])
                ordered = counts @ prices
                keeps_rule &= (ordered == 0.0) | (ordered >= least - 1e-9)
        counts = counts[keeps_rule]
        money, missing, waste = _counted(tiny, slots, counts, chosen)
        works = missing < 1e-6
        if works.any():
            best = min(best, float((money + waste)[works].min()))
    return None if np.isinf(best) else best


def _recounted(tiny: Tiny, record: MenuRecord) -> float:
    """Play the plan that is told through and add it up, from its screen alone."""
    slots = [(pack, day) for pack in tiny.packs for day in pack.days]
    counts = np.zeros((1, len(slots)))
    for line in record.lines:
        (slot,) = [
            number
            for number, (pack, day) in enumerate(slots)
            if (pack.thing, pack.supplier, day) == (line.name, line.supplier, line.day.day - 1)
            and line.pack == f"{pack.litres:g} L"
        ]
        counts[0, slot] += line.packs or 0
    chosen = tuple(row.begin.day - 1 for row in record.calendar for _ in range(row.batches))
    assert all(row.each_l == pytest.approx(2.0, abs=1e-6) for row in record.calendar)
    if tiny.batches is not None:
        assert chosen in set(_begun(tiny))
        assert all(row.ready.day - row.begin.day == tiny.batches.waits for row in record.calendar)
    for supplier, least in tiny.least.items():
        for day in {line.day.day for line in record.lines if line.supplier == supplier}:
            paid = sum(r.without_tax for r in record.lines if (r.supplier, r.day.day) == (supplier, day))
            assert paid >= least - 1e-9
    money, missing, waste = _counted(tiny, slots, counts, chosen)
    assert missing[0] < 1e-6
    assert record.total + record.labour == pytest.approx(money[0])
    return float(money[0] + waste[0])


@pytest.mark.parametrize("tenth", range(10))
def test_no_plan_that_the_rules_allow_costs_less(tmp_path: Path, tenth: int) -> None:
    tried = short = 0
    for seed in range(1000 * tenth, 1000 * (tenth + 1)):
        tiny = _tiny(seed)
        least = _least_of_all(tiny)
        if least == -1.0:
            continue
        folder = tmp_path / str(seed)
        folder.mkdir()
        for name, text in tiny.files.items():
            (folder / f"{name}.yaml").write_text(text, encoding="utf-8")
        record = plan_menu(folder / "menu.yaml")
        tried += 1
        if least is None:
            short += 1
            assert record.status == "short", seed
        else:
            assert record.status == "optimal", seed
            cost = _recounted(tiny, record)
            assert cost == pytest.approx(least, rel=1e-4, abs=1e-6), seed
        if tried == 20:
            break
    assert tried == 20
    assert short < 18

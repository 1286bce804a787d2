"""Results that are kept: nothing lost, nothing done twice, and the same wherever they are worked out."""

from __future__ import annotations

import json
import multiprocessing
import os
import random
import re
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from conftest import PLAIN_TERMINAL, ROOT, RunCommand

from formulate.errors import FormulateError
from formulate.files.scenarios import load_scenarios
from formulate.jobs.suppose import suppose
from formulate.planning.case_outcomes import subject_as_it_is
from formulate.planning.cases import cases_of
from formulate.planning.results_file import key_of, open_results
from tests.jobs.supposed import SHELF, run_in_a_group_of_its_own, write_bar

DRAWS = """\
draws:
  count: %d
  seed: 3
  prices: {neutral-spirit-96: ±20 %%, white-sugar: 1 to 3 EUR/kg, honey: ±50 %%}
"""
TODAY = date(2026, 11, 27)


def _rows(path: Path) -> list[dict[str, Any]]:
    """Read the results of a file, which has no line that is not whole."""
    raw = path.read_bytes()
    assert raw.endswith(b"\n")
    return [json.loads(line) for line in raw.splitlines()[1:]]


def test_what_is_kept_is_not_worked_out_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path, results = write_bar(tmp_path, DRAWS % 12), tmp_path / "results.jsonl"
    whole = suppose(path, today=TODAY).to_dict()
    suppose(path, results=results, today=TODAY)
    kept = results.read_bytes()
    results.write_bytes(b"".join(kept.splitlines(keepends=True)[:8]))
    worked: list[str] = []

    def counted(subject: Any, case: Any, **options: Any) -> Any:
        worked.append(case.name)
        return outcome_of(subject, case, **options)

    from formulate.jobs import suppose as job
    from formulate.planning.case_outcomes import outcome_of

    monkeypatch.setattr(job, "outcome_of", counted)
    told: list[tuple[int, int]] = []
    again = suppose(
        path, results=results, today=TODAY, progress=lambda done, count: told.append((done, count))
    )
    # Seven of twelve stood there: the five others are worked out, and no more.
    assert len(worked) == 5
    assert told[0] == (8, 12)
    assert told[-1] == (12, 12)
    assert again.to_dict() == whole
    assert results.read_bytes() == kept
    # More of the same draws: those that are there count.
    more = suppose(write_bar(tmp_path, DRAWS % 14), results=results, today=TODAY)
    assert len(worked) == 7
    assert [one.outcome for one in more.cases[:12]] == [one.outcome for one in again.cases]


@pytest.mark.parametrize("cut", [1, 5, 60, 200])
def test_a_line_that_was_being_written_is_done_again(tmp_path: Path, cut: int) -> None:
    path, results = write_bar(tmp_path, DRAWS % 6), tmp_path / "results.jsonl"
    whole = suppose(path, results=results, today=TODAY).to_dict()
    kept = results.read_bytes()
    results.write_bytes(kept[:-cut])
    assert suppose(path, results=results, today=TODAY).to_dict() == whole
    assert results.read_bytes() == kept
    # Torn in its very first line, or blank where the disk had room but no words yet.
    for torn in (kept[:7], kept[:100], b"", kept[:-40] + b"\0" * 39 + b"\n"):
        results.write_bytes(torn)
        assert suppose(path, results=results, today=TODAY).to_dict() == whole
        assert len(_rows(results)) == 6


def test_results_of_other_files_are_refused(tmp_path: Path) -> None:
    path, results = write_bar(tmp_path, DRAWS % 3), tmp_path / "results.jsonl"
    suppose(path, results=results, today=TODAY)
    kept = results.read_bytes()
    write_bar(tmp_path, DRAWS % 3, shelf=SHELF.replace("1.15", "1.16"))
    with pytest.raises(FormulateError, match=r"results of other files: shelf\.yaml was different then"):
        suppose(path, results=results, today=TODAY)
    write_bar(tmp_path, DRAWS % 3)
    for content, said in (
        (kept.replace(b'"version":"', b'"version":"9'), "was begun by version 9"),
        (b"name: Mine\noffers: {}\n", "holds something else"),
        (b"mine", "holds something else"),
        (kept.replace(b'"day":"2026-11-27"', b'"day":"soon"'), "holds something else"),
    ):
        results.write_bytes(content)
        with pytest.raises(FormulateError, match=said):
            suppose(path, results=results, today=TODAY)
        assert results.read_bytes() == content
    with pytest.raises(FormulateError, match="is what is read here"):
        suppose(path, results=path, today=TODAY)


@pytest.mark.parametrize("flipped", range(8))
def test_a_result_that_changed_on_the_disk_is_worked_out_again(flipped: int, tmp_path: Path) -> None:
    """One bit of the third result is turned: it is never believed, and the others are kept."""
    path = write_bar(tmp_path, DRAWS % 3)
    results = tmp_path / "results.jsonl"
    whole = suppose(path, results=results, today=TODAY)
    lines = results.read_bytes().splitlines(keepends=True)
    row = bytearray(lines[2])
    row[flipped * (len(row) - 2) // 8] ^= 1 << (flipped % 7)
    results.write_bytes(b"".join([*lines[:2], bytes(row).replace(b"\n", b"~") + b"\n", *lines[3:]]))
    again = suppose(path, results=results, today=TODAY)
    assert [one.outcome for one in again.cases] == [one.outcome for one in whole.cases]
    assert len(results.read_bytes().splitlines()) == len(lines) + 1


LISTED = """\
price_lists:
  - file: lists/%s
    supplier: north cellar
    columns: {product: Article, pack: Size, price: Net price}
    decimal: comma
    currency: EUR
    items: {vodka-40: Vodka grain 40}
"""
LISTED_SHELF = SHELF.replace("  vodka-40: {pack: 70 cl, price: 10 EUR}\n", "") + LISTED
ROWS = (
    ("Article", "Size", "Net price"),
    ("Vodka grain 40", "70 cl", "10,00"),
    ("Dry gin 40", "70 cl", "15,90"),
)


def _listed_bar(folder: Path, cases: str, name: str = "north.csv", price: str = "10,00") -> Path:
    """Write the menu of a bar whose vodka stands in its supplier's list."""
    (folder / "lists").mkdir(exist_ok=True)
    rows = [tuple(price if cell == "10,00" else cell for cell in row) for row in ROWS]
    if name.endswith(".csv"):
        text = "\n".join(";".join(row) for row in rows)
        (folder / "lists" / name).write_text(f"{text}\n", encoding="utf-8")
    else:
        from openpyxl import Workbook

        book = Workbook()
        for row in rows:
            book.worksheets[0].append(list(row))
        book.save(folder / "lists" / name)
    return write_bar(folder, cases, about="menu", shelf=LISTED_SHELF % name)


@pytest.mark.parametrize("name", ["north.csv", "north.xlsx"])
def test_a_case_changes_a_price_that_stands_in_a_list(tmp_path: Path, name: str) -> None:
    cases = "cases: {dear: {prices: {vodka-40: +20 %}}, said: {prices: {vodka-40: 12 EUR}}}\n"
    record = suppose(_listed_bar(tmp_path, cases, name), today=TODAY)
    # By hand: 100 drinks of 40 mL are six bottles of 70 cl, at 10.00 and at 12.00.
    assert record.as_it_is["uses"]["vodka-40"] == 60.0
    assert [one.outcome["uses"]["vodka-40"] for one in record.cases] == [72.0, 72.0]
    by_hand = suppose(_listed_bar(tmp_path, cases, name, price="12,00"), today=TODAY)
    assert by_hand.as_it_is["total"] == record.cases[0].outcome["total"]
    assert by_hand.as_it_is["uses"]["vodka-40"] == 72.0


@pytest.mark.parametrize("name", ["north.csv", "north.xlsx"])
def test_results_of_another_price_list_are_refused(tmp_path: Path, name: str) -> None:
    path, results = _listed_bar(tmp_path, DRAWS % 2, name), tmp_path / "results.jsonl"
    suppose(path, results=results, today=TODAY)
    kept = results.read_bytes()
    list_file = tmp_path / "lists" / name
    as_it_was = list_file.read_bytes()
    _listed_bar(tmp_path, DRAWS % 2, name, price="10,01")
    said = rf"results of other files: lists/{re.escape(name)} was different then"
    with pytest.raises(FormulateError, match=said):
        suppose(path, results=results, today=TODAY)
    assert results.read_bytes() == kept
    list_file.write_bytes(as_it_was)
    suppose(path, results=results, today=TODAY)
    assert results.read_bytes() == kept


def test_the_day_is_the_one_the_results_were_begun(tmp_path: Path) -> None:
    path, results = write_bar(tmp_path, DRAWS % 2), tmp_path / "results.jsonl"
    suppose(path, results=results, today=date(2026, 3, 1))
    assert suppose(path, results=results, today=TODAY).day == date(2026, 3, 1)
    assert suppose(path, today=TODAY).day == TODAY


def test_two_runs_do_not_write_one_file(tmp_path: Path, run_apart: RunCommand) -> None:
    path, results = write_bar(tmp_path, DRAWS % 2), tmp_path / "results.jsonl"
    files = subject_as_it_is(tmp_path / "bottle.yaml", TODAY, is_menu=False)[1]
    with open_results(results, files):
        done = run_apart("suppose", path, "--results", results)
    assert (done.exit_code, done.stdout) == (2, "")
    assert "another run is writing to it" in done.stderr
    assert run_apart("suppose", path, "--results", results).exit_code == 0


def _arguments(path: Path, results: Path, workers: int) -> list[str]:
    return ["suppose", str(path), "--results", str(results), "--workers", str(workers), "--json"]


def _lines(results: Path) -> int:
    return results.read_bytes().count(b"\n") if results.exists() else 0


def _until(is_running: Callable[[], bool], results: Path, lines: int) -> None:
    while is_running() and _lines(results) < lines:
        time.sleep(0.002)


@pytest.mark.slow
def test_killed_twenty_times_nothing_is_lost_and_nothing_done_twice(
    tmp_path: Path, run_apart: RunCommand
) -> None:
    path = write_bar(tmp_path, DRAWS % 120)
    keys = {key_of(case) for case in cases_of(load_scenarios(path))}
    results, whole = tmp_path / "results.jsonl", tmp_path / "whole.jsonl"
    rng = random.Random(20261127)
    before: list[dict[str, Any]] = []
    killed = 0
    # Forked from a process that has loaded the program already: twenty times that would be half a minute.
    forks = multiprocessing.get_context("forkserver")
    forks.set_forkserver_preload(["formulate.jobs.suppose", "tests.jobs.supposed"])
    for number in range(20):
        # At a random moment after a random number of further results; two processes every fifth time.
        arguments = _arguments(path, results, 2 if number % 5 == 4 else 1)
        running = forks.Process(target=run_in_a_group_of_its_own, args=(arguments,))
        running.start()
        assert running.pid is not None
        while os.getpgid(running.pid) != running.pid:  # not yet in a group of its own
            time.sleep(0.0005)
        _until(running.is_alive, results, _lines(results) + rng.randint(0, 7))
        time.sleep(rng.uniform(0.0, 0.04))
        os.killpg(running.pid, signal.SIGKILL)
        running.join()
        killed += running.exitcode == -signal.SIGKILL
        raw = results.read_bytes() if results.exists() else b""
        now = [json.loads(line) for line in raw[: raw.rfind(b"\n") + 1].splitlines()[1:]]
        assert now[: len(before)] == before, "lost"
        before = now
    assert killed == 20
    assert len({row["key"] for row in before}) == len(before) < 120
    resumed = run_apart(*_arguments(path, results, 2))
    rows = _rows(results)
    assert rows[: len(before)] == before
    assert {row["key"] for row in rows} == keys
    assert len(rows) == len(keys) == 120
    straight = run_apart(*_arguments(path, whole, 1))
    assert (resumed.exit_code, straight.exit_code) == (0, 0)
    assert resumed.stdout == straight.stdout
    assert (resumed.stderr, straight.stderr) == ("", "")


STOPPABLE = """
import runpy, signal
signal.signal(signal.SIGINT, signal.default_int_handler)
runpy.run_module("formulate", run_name="__main__")
"""
"""A job that a script starts in the background begins with the interrupt ignored, and would pass that on."""


@pytest.mark.slow
@pytest.mark.parametrize("workers", [1, 2])
def test_a_run_that_is_stopped_says_how_to_go_on(tmp_path: Path, workers: int) -> None:
    path, results = write_bar(tmp_path, DRAWS % 400), tmp_path / "results.jsonl"
    running = subprocess.Popen(
        [sys.executable, "-c", STOPPABLE, *_arguments(path, results, workers)],
        cwd=ROOT,
        env={**os.environ, **PLAIN_TERMINAL},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        start_new_session=True,
    )
    _until(lambda: running.poll() is None, results, 6)
    os.killpg(running.pid, signal.SIGINT)
    out, err = running.communicate(timeout=60)
    rows = _rows(results)
    assert (running.returncode, err) == (130, b"")
    document = json.loads(out)
    assert (document["status"], document["count"]) == ("stopped", 400)
    assert 5 <= len(rows) == document["done"] < 400
    assert "Run the same command again to go on" in document["text"]


@pytest.fixture(scope="module")
def scheduler() -> Iterator[str]:
    """Address of a scheduler with two workers of one core each."""
    from distributed import LocalCluster

    with LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, silence_logs=50
    ) as cluster:
        yield cluster.scheduler_address


@pytest.mark.slow
@pytest.mark.parametrize("about", ["bottle", "menu"])
def test_every_way_gives_the_same_bytes(
    tmp_path: Path, scheduler: str, about: str, run_here: RunCommand, run_apart: RunCommand
) -> None:
    cases = (
        "cases: {no honey: {gone: [honey]}, no vodka: {gone: [vodka-40]}, dear: {prices: {honey: +20 %}}}\n"
    )
    path = write_bar(tmp_path, cases + DRAWS % 6, about=about)
    asked = ["suppose", path, "--json"]
    one = run_here(*asked, "--workers", "1")
    assert (one.exit_code, one.stderr) == (0, "")
    for options in (["--workers", "2"], ["--scheduler", scheduler], []):
        other = run_apart(*asked, *options)
        assert (other.exit_code, other.stderr) == (0, "")
        assert other.stdout == one.stdout, options


@pytest.mark.slow
@pytest.mark.parametrize("name", ["north.csv", "north.xlsx"])
def test_a_price_list_travels_with_the_work(
    tmp_path: Path, scheduler: str, name: str, run_here: RunCommand, run_apart: RunCommand
) -> None:
    cases = "cases: {dear: {prices: {vodka-40: +20 %}}}\n" + DRAWS % 3
    path, results = _listed_bar(tmp_path, cases, name), tmp_path / "results.jsonl"
    one = run_here("suppose", path, "--json", "--workers", "1")
    assert (one.exit_code, one.stderr) == (0, "")
    assert json.loads(one.stdout)["cases"][0]["uses"]["vodka-40"] == 72.0
    other = run_apart("suppose", path, "--json", "--scheduler", scheduler, "--results", results)
    assert (other.exit_code, other.stderr, other.stdout) == (0, "", one.stdout)
    # What travelled is named with its hash: shelf, menu, drink, bottle and list.
    assert f"lists/{name}" in json.loads(results.read_bytes().splitlines()[0])["inputs"]


@pytest.mark.slow
def test_a_cluster_goes_on_where_the_cores_stopped(
    tmp_path: Path, scheduler: str, run_apart: RunCommand
) -> None:
    path, results = write_bar(tmp_path, DRAWS % 20), tmp_path / "results.jsonl"
    whole = run_apart("suppose", path, "--json", "--results", results)
    results.write_bytes(b"".join(results.read_bytes().splitlines(keepends=True)[:9]))
    rest = run_apart("suppose", path, "--json", "--results", results, "--scheduler", scheduler)
    assert (rest.exit_code, rest.stderr, rest.stdout) == (0, "", whole.stdout)
    assert len({row["key"] for row in _rows(results)}) == len(_rows(results)) == 20


def test_a_scheduler_that_is_not_there_is_said(tmp_path: Path, run_here: RunCommand) -> None:
    path = write_bar(tmp_path, DRAWS % 2)
    done = run_here("suppose", path, "--scheduler", "nowhere:", "--json")
    assert done.exit_code == 2
    assert "nobody answers at nowhere:" in json.loads(done.stdout)["errors"][0]["text"]
    done = run_here("suppose", path, "--scheduler", "tcp://127.0.0.1:1", "--workers", "2")
    assert "--scheduler and --workers do not go together" in " ".join(done.stderr.split())


def test_without_the_extra_it_says_what_to_install(
    tmp_path: Path, run_here: RunCommand, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    done = run_here("suppose", write_bar(tmp_path, DRAWS % 2), "--scheduler", "tcp://127.0.0.1:1")
    assert (done.exit_code, done.stdout) == (2, "")
    assert "pip install '.[cluster]'" in " ".join(done.stderr.split())

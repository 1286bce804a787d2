"""Answers in a notebook: tables to look at, rows for pandas, and the example notebook run as it stands."""

from __future__ import annotations

from html.parser import HTMLParser

import pytest
from conftest import ROOT

import formulate
from formulate.errors import FormulateError
from formulate.quantity.document import Record
from tests.commands import EXAMPLES
from tests.hostile import HOSTILE


class _Tags(HTMLParser):
    def __init__(self, html: str) -> None:
        super().__init__()
        self.seen: set[str] = set()
        self.attributes: list[object] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.seen.add(tag)
        self.attributes += attrs


TABLE = {"table", "thead", "tbody", "tr", "th", "td", "h4"}


@pytest.mark.parametrize("name", HOSTILE, ids=range(len(HOSTILE)))
def test_no_name_is_more_than_text_in_a_notebook(name: str) -> None:
    class _Answer(Record):
        def to_dict(self) -> dict[str, object]:
            return {"name": name, "rows": [{"ingredient": name, name: 1.0}]}

    seen = _Tags(_Answer()._repr_html_())
    assert seen.seen <= TABLE
    assert not seen.attributes


def test_a_recipe_is_a_frame_that_adds_up() -> None:
    pytest.importorskip("pandas", reason="pandas is not here")
    record = formulate.predict(EXAMPLES / "recipes" / "lemon-leaf-40.yaml")
    frame = record.to_frame()
    lines = formulate.load(EXAMPLES / "recipes" / "lemon-leaf-40.yaml").ingredients
    assert list(frame.ingredient) == [line.id for line in lines]
    assert frame.mass_g.sum() == pytest.approx(sum(line.amount.value for line in lines) * 1000.0)


def test_an_answer_without_rows_says_so() -> None:
    class _Bare(Record):
        def to_dict(self) -> dict[str, object]:
            return {"status": "fine"}

    pytest.importorskip("pandas", reason="pandas is not here")
    with pytest.raises(FormulateError, match="no rows"):
        _Bare().to_frame()


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore")  # of the kernel and its sockets, none of them ours
def test_the_example_notebook_runs(monkeypatch: pytest.MonkeyPatch) -> None:
    nbformat = pytest.importorskip("nbformat", reason="Jupyter is not here to run a notebook")
    nbclient = pytest.importorskip("nbclient", reason="Jupyter is not here to run a notebook")
    pytest.importorskip("ipykernel", reason="Jupyter is not here to run a notebook")
    monkeypatch.setenv("PYTHONPATH", str(ROOT))
    notebook = nbformat.read(EXAMPLES / "liqueur.ipynb", as_version=4)
    nbclient.NotebookClient(
        notebook, timeout=300, resources={"metadata": {"path": str(ROOT / "examples")}}
    ).execute()
    shown = [cell.outputs for cell in notebook.cells if cell.cell_type == "code"]
    assert "<table>" in shown[0][0]["data"]["text/html"]
    assert "lemon-leaf" in shown[1][0]["data"]["text/html"]
    assert shown[2][0]["data"]["text/plain"].endswith("g weighed in'")

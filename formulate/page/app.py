"""The addresses of the page: each takes what was filled in, asks a job, and lays the answer out."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any
from urllib.parse import quote

from fastapi import Depends, FastAPI, HTTPException, Query, Request
from fastapi.responses import HTMLResponse, JSONResponse, RedirectResponse, Response
from fastapi.staticfiles import StaticFiles
from jinja2 import Environment, PackageLoader
from starlette.requests import ClientDisconnect

from formulate.errors import FormulateError, InfeasibleError
from formulate.jobs.solve import solve_bottle
from formulate.page import bottle as bottles
from formulate.page import work as works
from formulate.page.folder import ChangedElsewhereError, Folder, NotHereError
from formulate.page.guard import Guard, only_styles_of
from formulate.page.planning import Planning, Plannings
from formulate.report.document import error_document
from formulate.report.numbers import money

__all__ = ["make_app"]

STATIC = Path(__file__).parent / "static"
MOST_FIELDS = 2_000
SAVED = "Saved."
File = Annotated[str, Query(max_length=200, description="Path of a file below the opened folder.")]
Plans = Annotated[str, Query(max_length=200)]


async def _fields(request: Request) -> dict[str, str]:
    """Read a form: texts by name, the last of each."""
    try:
        async with request.form(max_files=0, max_fields=MOST_FIELDS) as form:
            return {name: value for name, value in form.items() if isinstance(value, str)}
    except ClientDisconnect:  # it was left, or cut off for its length
        raise HTTPException(413, "This is too much at once.") from None


Fields = Annotated[dict[str, str], Depends(_fields)]


def make_app(folder: Folder, *, key: str, hosts: frozenset[str]) -> Guard:
    """Put the addresses together, behind the guard.

    Parameters
    ----------
    folder : Folder
        Whose files are worked on.
    key, hosts
        See `Guard`.
    """
    app = FastAPI(title="formulate", docs_url=None, redoc_url=None)
    plannings = Plannings()
    pages = Environment(
        loader=PackageLoader("formulate.page"), autoescape=True, trim_blocks=True, lstrip_blocks=True
    )

    def page(template: str, parts: dict[str, Any], status: int = 200) -> HTMLResponse:
        return HTMLResponse(pages.get_template(template).render(folder=folder.root.name, **parts), status)

    def wrong(request: Request, error: Exception) -> Response:
        status = 404 if isinstance(error, NotHereError) else 400
        if request.url.path.startswith("/api/"):
            return JSONResponse(error_document(error), status)
        return page("wrong.html", {"text": str(error)}, status)

    app.add_exception_handler(FormulateError, wrong)
    app.mount("/static", StaticFiles(directory=STATIC), name="static")

    @app.get("/", include_in_schema=False)
    def home() -> HTMLResponse:
        return page("home.html", {"groups": bottles.groups(folder)})

    @app.get("/bottle", include_in_schema=False)
    def bottle(file: File, saved: bool = False) -> HTMLResponse:
        return page("bottle.html", bottles.view(folder, file) | {"told": SAVED if saved else ""})

    @app.post("/bottle/answer", include_in_schema=False)
    def bottle_answer(fields: Fields) -> HTMLResponse:
        return page("answer.html", bottles.view(folder, fields.get("file", ""), fields))

    @app.post("/bottle", include_in_schema=False, response_model=None)
    def bottle_changed(fields: Fields) -> Response:
        name = fields.get("file", "")
        if fields.get("do") not in ("save", "save as"):
            return page("bottle.html", bottles.view(folder, name, fields))
        try:
            saved = bottles.save(folder, name, fields)
        except ChangedElsewhereError as error:
            return page("bottle.html", bottles.view(folder, name, fields) | {"told": str(error)}, 409)
        return RedirectResponse(f"/bottle?file={quote(saved)}&saved=true", 303)

    @app.get("/open", include_in_schema=False)
    def opened(file: File) -> RedirectResponse:
        place = "bottle" if works.kind_of_file(folder, file) == "bottle" else "file"
        return RedirectResponse(f"/{place}?file={quote(file)}", 303)

    @app.get("/file", include_in_schema=False)
    def work(file: File, saved: bool = False) -> HTMLResponse:
        return page("work.html", works.view_work(folder, file) | {"told": SAVED if saved else ""})

    @app.post("/file/answer", include_in_schema=False)
    def work_answer(fields: Fields) -> HTMLResponse:
        return page("worked.html", works.view_work(folder, fields.get("file", ""), fields))

    @app.post("/file", include_in_schema=False, response_model=None)
    def work_changed(fields: Fields) -> Response:
        name = fields.get("file", "")
        if fields.get("do") != "save":
            return page("work.html", works.view_work(folder, name, fields))
        try:
            works.save_work(folder, name, fields)
        except FormulateError as error:
            status = 409 if isinstance(error, ChangedElsewhereError) else 400
            return page("work.html", works.view_work(folder, name, fields) | {"told": str(error)}, status)
        return RedirectResponse(f"/file?file={quote(name)}&saved=true", 303)

    @app.post("/plan", include_in_schema=False)
    def plan(fields: Fields) -> HTMLResponse:
        name = fields.get("file", "")
        folder.open(name)
        return planned(plannings.begin(lambda: works.view_work(folder, name, fields)))

    @app.get("/plan", include_in_schema=False)
    def plan_so_far(plan: Plans) -> HTMLResponse:
        return planned(plannings.find(plan))

    @app.post("/plan/stop", include_in_schema=False)
    def plan_stopped(fields: Fields) -> HTMLResponse:
        found = plannings.find(fields.get("plan", ""))
        found.watch.stop()
        return planned(found)

    def planned(one: Planning) -> HTMLResponse:
        best = one.watch.progress.best
        return page("planning.html", {"planning": one, "best": "" if best is None else money(best)})

    @app.get("/count", include_in_schema=False)
    def count(file: File, saved: bool = False) -> HTMLResponse:
        return page("count.html", works.count_view(folder, file) | {"told": SAVED if saved else ""})

    @app.post("/count", include_in_schema=False, response_model=None)
    def counted(fields: Fields) -> Response:
        name = fields.get("file", "")
        try:
            works.save_counts(folder, name, fields)
        except FormulateError as error:
            status = 409 if isinstance(error, ChangedElsewhereError) else 400
            return page("count.html", works.count_view(folder, name, fields) | {"told": str(error)}, status)
        return RedirectResponse(f"/count?file={quote(name)}&saved=true", 303)

    @app.get("/infuse", include_in_schema=False)
    def infuse(file: File, plans: Plans = "") -> HTMLResponse:
        return page("infuse.html", works.infuse_view(folder, file, plans))

    @app.get("/paper", include_in_schema=False)
    def paper(file: File) -> HTMLResponse:
        html = works.paper(folder, file)
        return HTMLResponse(html, headers={"Content-Security-Policy": only_styles_of(html)})

    @app.get("/api/files")
    def api_files() -> dict[str, list[str]]:
        """List the files of the folder."""
        return {"files": folder.names()}

    @app.post("/api/solve", responses={400: {}, 404: {}, 409: {}})
    def api_solve(file: File) -> JSONResponse:
        """Solve a bottle file; 409 where no recipe exists."""
        try:
            return JSONResponse(solve_bottle(folder.open(file).path).to_dict())
        except InfeasibleError as error:
            return JSONResponse(error.explanation.to_dict(), 409)

    return Guard(app, key=key, hosts=hosts)

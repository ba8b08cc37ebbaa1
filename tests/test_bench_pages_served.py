"""Every page of the bench as it is served: papers, why, order, record, drawer; and what they change, changed once."""

from __future__ import annotations

import csv
import re
import shutil
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.bench_server import ROOT, Server, job_text, laid_job, reading, served


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Server, Path]]:
    folder = tmp_path_factory.mktemp("shop")
    for name in ("swing-bridge", "quarry-tram"):
        shutil.copytree(ROOT / "demo_data" / name, folder / name)
    with served(folder) as server:
        yield server, folder


def ids(server: Server) -> dict[str, str]:
    """The id of each job by the name of its folder."""
    found = re.findall(r'href="/job/([a-z0-9-]+)-([0-9a-f]{6})"', server.get("/").text)
    return {name: f"{name}-{mark}" for name, mark in found}


def hidden(server: Server, path: str) -> dict[str, str]:
    """What a page's forms carry: its token, and the version of what it shows."""
    return dict(re.findall(r'name="(token|version)" value="([^"]*)"', server.get(path).text))


def token(server: Server, path: str) -> str:
    return hidden(server, path)["token"]


def test_every_page_of_a_job_is_there(shop: tuple[Server, Path]) -> None:
    server, _ = shop
    job = ids(server)["quarry-tram"]
    for path, kind in {
        "/": "text/html",
        "/new": "text/html",
        f"/job/{job}": "text/html",
        f"/job/{job}/gap/1": "text/html",
        f"/job/{job}/order": "text/html",
        f"/job/{job}/record": "text/html",
        f"/job/{job}/sheet.html": "text/html",
        f"/job/{job}/letter.pdf": "application/pdf",
        f"/job/{job}/card.html": "text/html",
        f"/drawer/{job}": "text/html",
        "/drawer": "text/html",
        "/history": "text/html",
        "/pair": "text/html",
        "/devices": "text/html",
    }.items():
        answer = server.get(path)
        assert (answer.status, answer.headers["content-type"].partition(";")[0]) == (200, kind), path
        assert answer.headers["cache-control"] == "no-store"
        assert "default-src 'none'" in answer.headers["content-security-policy"]
    assert server.get(f"/job/{job}/letter.pdf").body.startswith(b"%PDF-")
    # papers lead back to their job, but not on paper
    for paper in ("sheet", "card"):
        told = server.get(f"/job/{job}/{paper}.html").text
        assert (f'<a href="/job/{job}">Back to the job</a>' in told, "print { nav { display: none" in told) == (
            True,
            True,
        )
    # a drawer's page is called by its job, and leads back to it
    drawer = server.get(f"/drawer/{job}").text
    assert "<h1>Slate tram no. 3, axle boxes: Drawer</h1>" in drawer
    assert f'<a href="/job/{job}">Back to the job</a>' in drawer


def test_a_job_whose_file_cannot_be_read_is_said_so_and_not_being_worked_out(tmp_path: Path) -> None:
    laid_job(tmp_path / "winch", "title = ")
    with served(tmp_path) as server:
        # a job's own page waits for what is worked out; by then the list knows it too
        for path in (f"/job/{server.job()}", "/"):
            told = server.get(path).text
            assert "cannot be planned" in told
            assert "being worked out" not in told


@pytest.mark.parametrize(
    "path",
    [
        "/job/{job}/gap/0",
        "/job/{job}/gap/99",
        "/job/{job}/gap/x",
        # more digits than Python makes a number of
        pytest.param("/job/{job}/gap/" + "9" * 5000, id="many-digits"),
        "/job/{job}/job.toml",
        "/job/{job}/sheet.exe",
    ],
)
def test_what_is_no_page_is_none(shop: tuple[Server, Path], path: str) -> None:
    server, _ = shop
    none = server.get(path.format(job=ids(server)["quarry-tram"]))
    assert none.status == 404
    assert "<title>There is no such page</title>" in none.text
    assert "<h1>There is no such page</h1>" in none.text
    assert '<a href="/">All jobs</a>' in none.text


def test_what_is_refused_has_a_heading_and_a_way_back(shop: tuple[Server, Path]) -> None:
    server, _ = shop
    job, browser = ids(server)["swing-bridge"], {"Accept": "text/html,*/*"}
    for answer, status, title in (
        (server.get("/", Host="elsewhere.test", **browser), 421, "Another name"),
        (server.form(f"/job/{job}/hold", {}, Origin="null"), 403, "This was not done"),
        (server.form(f"/job/{job}/hold", {}), 403, "This was not done"),
        (server.ask("POST", "/new", b"x" * 65_537, **browser), 413, "This was not done"),
        (server.get(f"/job/{job}/hold", **browser), 405, "There is no such page"),
    ):
        assert answer.status == status
        assert answer.headers["content-type"].startswith("text/html")
        assert f"<title>{title}</title>" in answer.text
        assert answer.text.count(f"<h1>{title}</h1>") == 1
        # under another name there is nothing to go to
        assert ('href="/"' in answer.text) == (status != 421)
    # a customer is led nowhere else
    assert "<a" not in server.get("/c/none").text
    # what is no browser gets a line
    assert server.get("/", Host="elsewhere.test").headers["content-type"].startswith("text/plain")


def test_a_form_that_came_too_late_leads_back_to_its_page(shop: tuple[Server, Path]) -> None:
    """What was never taken stands in its fields again; what was sent twice does not: nobody knows if it is done."""
    server, _ = shop
    job = ids(server)["quarry-tram"]
    path, fields = f"/job/{job}/record", {"person": "M. Hale", "instrument": "blades", "after.1": "a bit"}
    came_from = {"Referer": f"http://127.0.0.1:{server.port}{path}?came=0"}
    for sent in ({**fields, "token": "0"}, fields):
        page = server.after(server.form(path, sent, **came_from)).text
        assert "nothing was done now" in page
        assert 'value="a bit"' in page
    used = fields | hidden(server, path)
    assert server.form(path, used).status == 303
    again = server.after(server.form(path, used, **came_from)).text
    assert "nothing was done now" in again
    assert 'value="a bit"' not in again
    # nobody is led away from here
    for elsewhere in ("http://elsewhere.test/", f"http://127.0.0.1:{server.port}//elsewhere", "x"):
        assert server.form(path, fields, Referer=elsewhere).status == 403


def test_what_a_form_without_script_is_refused_for_stands_on_a_page_that_can_be_loaded_again(
    shop: tuple[Server, Path],
) -> None:
    server, _ = shop
    job = ids(server)["swing-bridge"]
    reading = {"gap": "upper 1", "go": "30", "no_go": "20", "token": token(server, f"/job/{job}")}
    refused = server.form(f"/job/{job}/reading", reading)
    assert refused.headers["location"].endswith("#gap-1")
    for page in (server.after(refused).text, server.after(refused).text):
        assert "Swap them" in page
        assert [f'value="{blade}"' in page for blade in ("30", "20")] == [True, True]
        # no tick makes right what cannot be
        assert '<label class="checked">' not in page
    # 430 thou is 25 times what was read: only who typed it is asked whether it was read again
    slip = reading | {"go": "430", "no_go": "431", "token": token(server, f"/job/{job}")}
    page = server.after(server.form(f"/job/{job}/reading", slip)).text
    assert len(re.findall(r'<label class="checked">', page)) == 1
    choice = {"gap": "upper 1", "seq": "9", "token": token(server, f"/job/{job}")}
    assert "nothing to choose here any more" in server.after(server.form(f"/job/{job}/choose", choice)).text
    new = {"token": token(server, "/new"), "step": "more", "title": "Hoist", "gap.1.name": "left"}
    more = server.form("/new", new)
    assert more.headers["location"].endswith("#gap-2")
    assert [text in server.after(more).text for text in ('value="Hoist"', 'id="gap-2"')] == [True, True]


def test_a_new_job_that_is_refused_is_shown_where_it_is_wrong(shop: tuple[Server, Path]) -> None:
    server, _ = shop
    typed = {"title": "Hoist", "unit": "thou", "min": "4", "max": "12", "source": "sheet 7", "gap.1.name": "left"}
    typed |= {"gap.1.go": "17", "gap.1.no_go": "18", "sizes": "10 x 2"}

    def asked(**changed: str) -> tuple[str, str]:
        fields = typed | {name.replace("__", "."): it for name, it in changed.items()}
        answer = server.form("/new", fields | {"token": token(server, "/new")})
        return answer.headers["location"].partition("#")[2], server.after(answer).text

    at, page = asked(min="x")
    assert at == "window"
    assert re.search(r'name="min" value="x"[^>]* aria-invalid="true"[^>]*></label><p class="wrong">', page)
    assert 'name="sure"' not in page
    # what only looks unlikely too: 0.43 mm is 17 thou, and 0.43 thou is no gap that anybody reads
    at, page = asked(gap__1__go="0.43", gap__1__no_go="0.45")
    assert (at, 'name="sure"' in page) == ("sure", True)
    assert re.search(r'name="gap.1.no_go"[^>]* aria-invalid="true"', page)


def test_what_was_fitted_is_recorded_once_in_the_job_file(shop: tuple[Server, Path]) -> None:
    server, folder = shop
    job, file = ids(server)["swing-bridge"], folder / "swing-bridge" / "job.toml"
    fields = {
        **hidden(server, f"/job/{job}/record"),
        "person": "M. Hale",
        "instrument": "blades",
        "after.1": "10 to 11 thou",
        "update_drawer": "1",
    }
    before = server.form(f"/job/{job}/record", {**fields, "after.1": "a bit"})
    assert before.headers["location"].endswith("#gap-1")
    # it is a page of its own: loaded again, or come back to, it says the same
    for page in (server.after(before), server.after(before)):
        assert 'value="a bit"' in page.text
        # what is wrong stands at its gap, and the way there at the page's head
        head, *cards = page.text.split(' role="group" ')
        assert ["Upper 1: this is not a length (a bit)" in part for part in (head, *cards)] == [
            False,
            True,
            *[False] * 4,
        ]
        assert 'href="#gap-1">upper 1</a>' in head
    assert "a bit" not in server.get(f"/job/{job}/record").text
    assert "record" not in tomllib.loads(file.read_text(encoding="utf-8"))
    fields |= hidden(server, f"/job/{job}/record")
    # a record that does not say which plan was fitted is none
    unsaid = server.post(f"/job/{job}/record", {**fields, "version": ""})
    assert (unsaid.status, "which plan" in unsaid.data["errors"][0]["text"]) == (400, True)
    answers = [server.form(f"/job/{job}/record", fields).status for _ in range(2)]
    assert answers == [303, 409]
    (record,) = tomllib.loads(file.read_text(encoding="utf-8"))["record"]
    assert (record["person"], record["gap"][0]["name"]) == ("M. Hale", "upper 1")
    # from then on a reading belongs to the record page
    told = server.until(f"/job/{job}/answer", lambda told: told["recorded"])
    assert not any(row["can"] for row in told["readings"])


def test_a_record_of_a_page_that_is_no_longer_true_is_refused(shop: tuple[Server, Path]) -> None:
    server, folder = shop
    job, file = ids(server)["quarry-tram"], folder / "quarry-tram" / "job.toml"
    version, text = server.get(f"/job/{job}/answer").data["version"], file.read_text(encoding="utf-8")
    file.write_text(text.replace("max = 0.50", "max = 0.48"), encoding="utf-8")
    fields = {"person": "M. Hale", "instrument": "blades", "after.1": "0.2 mm", "version": version}
    answer = server.post(f"/job/{job}/record", fields)
    assert answer.status == 400
    assert "changed the job since" in answer.data["errors"][0]["text"]
    file.write_text(text, encoding="utf-8")


def test_a_measured_piece_goes_into_the_drawer_once(shop: tuple[Server, Path]) -> None:
    server, folder = shop
    job, drawer = ids(server)["quarry-tram"], folder / "quarry-tram" / "drawer.csv"

    def rows() -> int:
        return len(list(csv.reader(drawer.read_text(encoding="utf-8").splitlines())))

    before = rows()
    fields = {
        "thickness": "0.23",
        "part": "<i>odd</i>",
        "on_hand": "2",
        "at": "tin 9",
        "token": token(server, f"/drawer/{job}"),
    }
    answers = [server.form(f"/drawer/{job}/piece", fields) for _ in range(2)]
    assert [answer.status for answer in answers] == [303, 409]
    assert rows() == before + 1
    # a drawer in which no column says where pieces lie gets one
    assert "tin 9" in drawer.read_text(encoding="utf-8")
    assert "&lt;i&gt;odd&lt;/i&gt;" in server.after(answers[0]).text
    mark = re.search(r"The piece lies in the drawer. Mark each ([B-Z]{4}):", server.after(answers[0]).text)
    assert mark is not None
    assert f",{mark[1]}," in drawer.read_text(encoding="utf-8")
    thick = server.post(f"/drawer/{job}/piece", {"thickness": "thick"})
    assert thick.status == 400
    assert thick.data["errors"][0]["text"] == (
        "Thickness as measured: this is not a number (here: thick). Write a number in mm, or one with its unit; "
        "of several spots one after another, spaces between."
    )
    formula = server.post(f"/drawer/{job}/piece", {"thickness": "0.23", "part": "=cmd|x", "on_hand": "0"})
    assert "a spreadsheet would take this for a formula" in formula.data["errors"][0]["text"]
    none = server.post(f"/drawer/{job}/piece", {"thickness": "0.23", "on_hand": "0"})
    assert none.data["errors"][0]["text"].startswith("How many: none was counted")
    # 9 thou is 0.2286 mm
    assert server.post(f"/drawer/{job}/piece", {"thickness": "9 thou", "part": "nine"}).status == 200
    assert re.search(r"^nine,[^\n]*\b0\.2286\b", drawer.read_text(encoding="utf-8"), re.MULTILINE)
    # as thick as others of it: nobody is asked
    assert server.post(f"/drawer/{job}/piece", {"thickness": "0.31"}).status == 200


def test_a_piece_that_was_probably_measured_in_another_unit_is_asked_about(tmp_path: Path) -> None:
    """0.17 mm is 6.7 thou (170 / 25.4), among pieces of 2 to 10 thou; 0.17 thou is no foil that anybody sells."""
    laid_job(tmp_path / "winch")
    drawer = tmp_path / "winch" / "drawer.csv"
    before = drawer.read_text(encoding="utf-8")
    with served(tmp_path) as server:
        job = server.job()
        fields = {"thickness": "0.17", "part": "odd", "token": token(server, f"/drawer/{job}")}
        asked = server.after(server.form(f"/drawer/{job}/piece", fields))
        assert "0.17 thou is far from all pieces of this drawer: 0.17 mm was probably meant" in asked.text
        # what was typed stands there again, beside the question
        assert 'value="0.17"' in asked.text
        assert 'name="checked"' in asked.text
        assert drawer.read_text(encoding="utf-8") == before
        # the same digits in the drawer's unit, where another was typed
        other = server.post(f"/drawer/{job}/piece", {"thickness": "7 mm"}).data["errors"][0]["text"]
        assert other.startswith("7 mm is far from all pieces of this drawer: 7 thou was probably meant. Write it again")
        # what is refused is quoted as it was typed
        for typed, rule in (("-3", "a thickness is above zero"), ("7 in", "this is another order of thickness")):
            text = server.post(f"/drawer/{job}/piece", {"thickness": typed}).data["errors"][0]["text"]
            assert text.startswith(f"Thickness as measured: {rule}")
            assert f"(here: {typed})" in text
        # what no tick makes right is not ticked
        far = fields | {"thickness": "0.007", "token": token(server, f"/drawer/{job}")}
        assert 'name="checked"' not in server.after(server.form(f"/drawer/{job}/piece", far)).text
        again = fields | {"checked": "1", "token": token(server, f"/drawer/{job}")}
        assert "lies in the drawer" in server.after(server.form(f"/drawer/{job}/piece", again)).text
        assert drawer.read_text(encoding="utf-8") != before


def test_a_reading_that_cannot_be_written_is_in_no_answer_and_no_earlier_answer_stands_in_its_place(
    tmp_path: Path,
) -> None:
    file = laid_job(tmp_path / "winch")
    with served(tmp_path) as server:
        job = server.job()
        server.until(f"/job/{job}/answer", lambda told: told["stage"] == "reasons")
        file.chmod(0o444)
        assert server.post(f"/job/{job}/reading", reading(1, go="30", no_go="31")).data["taken"]
        told = server.until(f"/job/{job}/answer", lambda told: told["data"]["verdict"] == "unproven")["data"]
        assert told["answer"][0].startswith("east: 30 goes, 31 does not was read, and does not stand in")
        assert "the job file is read-only" in told["answer"][1]
        assert (told["gaps"][0]["verdict"], told["buy"], told["proof"]) == ("unproven", [], "")
        assert "S-" not in told["gaps"][0]["work"][0]["text"]
        assert "does not stand in the job&#39;s file yet" in server.get("/").text
        for paper in ("sheet.html", "letter.html", "order", "gap/1"):
            assert server.get(f"/job/{job}/{paper}").status == 400, paper
        file.chmod(0o644)
        server.until(f"/job/{job}/answer", lambda told: "30 to 31" in str(told["data"]["gaps"][0]))


def test_what_names_one_time_is_no_path_and_two_that_begin_alike_are_two(shop: tuple[Server, Path]) -> None:
    server, folder = shop
    job, drawer = ids(server)["quarry-tram"], folder / "quarry-tram" / "drawer.csv"
    before = drawer.read_text(encoding="utf-8").count("odd one")
    fields = {"part": "odd one", "thickness": "0.24"}
    for request in ("/../../../a", "/../../../b", "/../../../b", "c:\\d"):
        answer = server.post(f"/drawer/{job}/piece", {**fields, "request": request})
        assert answer.status == 200, answer.text
    assert drawer.read_text(encoding="utf-8").count("odd one") == before + 3


def test_a_piece_is_put_into_a_drawer_for_any_job_that_takes_from_it(tmp_path: Path) -> None:
    """A shim of 0.75 in bore goes on no shaft of 1.5 in, and lies in the drawer for other jobs all the same."""
    seat = '[[seat]]\nname = "end"\nshaft = "1.5 in"\n\n[[gap]]\nname = "east"\nseat = "end"\nvalue = 9\n'
    laid_job(tmp_path / "winch", job_text() + seat, "part,thickness_thou,inner_in,on_hand\nS-07,7,0.75,4\n")
    with served(tmp_path) as server:
        job, drawer = server.job(), tmp_path / "winch" / "drawer.csv"
        fields = {"thickness": "7.1", "part": "S-07", "token": token(server, "/drawer")}
        of_job = server.after(server.form(f"/drawer/{job}/piece", fields)).text
        assert "lies in the drawer" not in of_job
        fields |= {"whole": "1", "token": token(server, "/drawer")}
        answer = server.form(f"/drawer/{job}/piece", fields)
        assert answer.headers["location"].startswith("/drawer?")
        assert "lies in the drawer" in server.after(answer).text
        # told apart by a mark that can be written on it, not by a file that nobody knows
        assert re.search(r"S-07,.*,[B-Z]{4},7\.1$", drawer.read_text(encoding="utf-8"), re.MULTILINE)
        thick = fields | {"thickness": "thick", "token": token(server, "/drawer")}
        refused = server.after(server.form(f"/drawer/{job}/piece", thick)).text
        assert f'<details id="piece-{job}" open>' in refused
        assert 'value="thick"' in refused


def test_nothing_is_held_in_a_drawer_that_is_a_list(shop: tuple[Server, Path]) -> None:
    server, _ = shop
    job = ids(server)["quarry-tram"]
    version = server.get(f"/job/{job}/answer").data["version"]
    answer = server.post(f"/job/{job}/hold", {"version": version})
    assert answer.status == 400
    assert "lists promise no piece" in answer.data["errors"][0]["text"]


def test_a_customer_sees_one_job_and_no_longer_than_that_is_allowed(shop: tuple[Server, Path]) -> None:
    server, folder = shop
    job, file = ids(server)["quarry-tram"], folder / "quarry-tram" / "job.toml"
    told = server.post(f"/job/{job}/customer", {"days": "3"}).data
    path = "/c/" + told["address"].rpartition("/c/")[2]
    # 128 bits are 22 characters of six bits
    assert len(path) == len("/c/") + 22
    page = server.get(path)
    assert (page.status, page.headers["cache-control"]) == (200, "no-store")
    assert "<script" not in page.text
    assert f"/job/{job}" not in page.text
    assert server.get(path[:-1] + ("A" if path[-1] != "A" else "B")).status == 404
    # on a page that only this computer sees, it is said so, with a way back
    asked = {"days": "3", "token": token(server, f"/job/{job}")}
    made = server.after(server.form(f"/job/{job}/customer", asked)).text
    assert "the customer sees nothing of it" in made
    assert "shimopt bench --network" in made
    assert ">Copy it</button>" in made
    assert f'href="/job/{job}"' in made
    server.post("/devices/revoke", {"id": re.findall(r'name="id" value="([0-9a-f]+)"', made)[-1]})
    # another job that lies where this one lay is not the customer's
    text = file.read_text(encoding="utf-8")
    title = tomllib.loads(text)["title"]
    file.write_text(text.replace(title, "Another job"), encoding="utf-8")
    assert server.get(path).status == 404
    file.write_text(text, encoding="utf-8")
    assert server.get(path).status == 200
    row = re.search(r'name="id" value="([0-9a-f]+)"', server.get("/devices").text)
    assert row is not None
    assert server.post("/devices/revoke", {"id": row[1]}).data == {"revoked": True}
    assert server.get(path).status == 404

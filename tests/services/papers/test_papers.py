"""Papers kept beside the database by their hash; remarks; what a search finds of both."""

import shutil
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from fluiddesk.domain.errors import CannotWriteError, NotFoundError, OperatorError, UsageError
from fluiddesk.services.database_care import check_database, copy_database
from fluiddesk.services.papers.attach import attach, check_papers, open_copy, papers_of, withdraw
from fluiddesk.services.papers.facts import OwnerKind, PaperOwner
from fluiddesk.services.papers.folder import (
    PaperError,
    keep,
    name_papers_folder,
    papers_folder,
    place_of,
)
from fluiddesk.services.papers.remarks import add_remark, remarks_of, withdraw_remark
from fluiddesk.services.search.facts import HitKind
from fluiddesk.services.search.find import find
from fluiddesk.services.search.index import build_index
from fluiddesk.storage import open_store
from tests.fleets import CLERK, NOW, Fleet

PDF = b"%PDF-1.7\nreport of an invented laboratory"
LATER = NOW + timedelta(hours=1)


@pytest.fixture
def owner(fleet: Fleet) -> PaperOwner:
    return PaperOwner(OwnerKind.COMPARTMENT, fleet.boxes("engine")[0].compartment_id)


def paper(fleet: Fleet, name: str = "report.pdf", content: bytes = PDF) -> Path:
    file = fleet.folder / name
    file.write_bytes(content)
    return file


def test_that_a_paper_is_kept_beside_the_database_and_comes_back_unchanged(
    fleet: Fleet, owner: PaperOwner
):
    made = attach(fleet.place, owner, paper(fleet), note="original", moment=NOW)
    assert papers_of(fleet.place, owner) == (made,)
    assert (made.file_name, made.media_type, made.added_by, made.note) == (
        "report.pdf",
        "application/pdf",
        CLERK,
        "original",
    )
    kept = place_of(papers_folder(fleet.place.store), made.sha256)
    assert kept.is_relative_to(Path(f"{fleet.address}.papers"))
    paper(fleet).unlink()
    copy = open_copy(fleet.place, made.id, fleet.folder / "out")
    assert (copy.name, copy.read_bytes()) == ("report.pdf", PDF)
    assert check_database(fleet.address) == []


@pytest.mark.parametrize("harm", ["changed", "missing"])
def test_that_a_paper_changed_or_lost_is_found_and_not_opened(
    fleet: Fleet, owner: PaperOwner, harm: str
):
    made = attach(fleet.place, owner, paper(fleet), moment=NOW)
    kept = place_of(papers_folder(fleet.place.store), made.sha256)
    if harm == "changed":
        kept.write_bytes(PDF.replace(b"7", b"8"))
    else:
        kept.unlink()
    [told] = check_database(fleet.address)
    assert told.startswith('paper "report.pdf" of compartment: its file is')
    with pytest.raises(PaperError, match="from your backup"):
        open_copy(fleet.place, made.id, fleet.folder / "out")


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("empty.pdf", b"", "is empty"),
        ("letter.pdf", b"plain words", "neither a PDF nor a picture"),
        ("picture.pdf", b"\x89PNG\r\n\x1a\n...", "Give it the ending .png"),
    ],
)
def test_that_a_file_that_is_no_paper_is_refused(
    fleet: Fleet, owner: PaperOwner, name: str, content: bytes, said: str
):
    before = fleet.dump()
    with pytest.raises(PaperError, match=said):
        attach(fleet.place, owner, paper(fleet, name, content), moment=NOW)
    assert fleet.dump() == before


def test_that_a_paper_too_large_to_keep_is_refused(
    fleet: Fleet, owner: PaperOwner, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr("fluiddesk.services.papers.folder.LARGEST_BYTES", 10)
    with pytest.raises(PaperError, match="Make it smaller"):
        attach(fleet.place, owner, paper(fleet), moment=NOW)


def test_that_a_missing_file_and_a_missing_record_are_named(fleet: Fleet, owner: PaperOwner):
    with pytest.raises(NotFoundError, match=r"no file .*nowhere\.pdf"):
        attach(fleet.place, owner, fleet.folder / "nowhere.pdf", moment=NOW)
    nobody = PaperOwner(OwnerKind.MACHINE, bytes(16))
    with pytest.raises(NotFoundError, match="no machine"):
        attach(fleet.place, nobody, paper(fleet), moment=NOW)


def test_that_one_content_is_attached_to_a_record_once_but_to_others_too(
    fleet: Fleet, owner: PaperOwner
):
    attach(fleet.place, owner, paper(fleet), moment=NOW)
    with pytest.raises(PaperError, match=r'already, as "report\.pdf"'):
        attach(fleet.place, owner, paper(fleet, "again.pdf"), moment=LATER)
    other = PaperOwner(OwnerKind.COMPARTMENT, fleet.boxes("engine")[1].compartment_id)
    attach(fleet.place, other, paper(fleet), moment=LATER)
    kept = [one for one in papers_folder(fleet.place.store).rglob("*") if one.is_file()]
    assert len(kept) == 1


def test_that_a_withdrawn_paper_is_shown_no_more_but_kept(fleet: Fleet, owner: PaperOwner):
    made = attach(fleet.place, owner, paper(fleet), moment=NOW)
    with pytest.raises(OperatorError, match="Write why"):
        withdraw(fleet.place, made.id, reason=" ", moment=LATER)
    withdraw(fleet.place, made.id, reason="wrong machine", moment=LATER)
    assert papers_of(fleet.place, owner) == ()
    assert place_of(papers_folder(fleet.place.store), made.sha256).is_file()
    with pytest.raises(NotFoundError, match="withdrawn"):
        open_copy(fleet.place, made.id, fleet.folder)
    with pytest.raises(NotFoundError, match="withdrawn already"):
        withdraw(fleet.place, made.id, reason="again", moment=LATER)


def test_that_a_copy_of_a_database_brings_its_papers(fleet: Fleet, owner: PaperOwner):
    attach(fleet.place, owner, paper(fleet), moment=NOW)
    target = str(fleet.folder / "copy.fluiddesk")
    copy_database(fleet.address, target, moment=LATER)
    assert check_database(target) == []


def test_that_a_database_in_a_file_keeps_its_papers_beside_it(fleet: Fleet):
    elsewhere = fleet.folder / "elsewhere"
    with pytest.raises(UsageError, match=r"beside it, in .*fleet\.fluiddesk\.papers"):
        name_papers_folder(fleet.place, elsewhere, moment=NOW)
    target = fleet.folder / "copy.fluiddesk"
    with pytest.raises(UsageError, match="Leave --papers out"):
        copy_database(fleet.address, str(target), moment=NOW, papers=elsewhere)
    assert not elsewhere.exists()
    assert not target.exists()


def test_that_papers_go_along_to_a_server_and_back(
    fleet: Fleet, owner: PaperOwner, postgres_address: str
):
    attach(fleet.place, owner, paper(fleet), moment=NOW)
    shared, back = fleet.folder / "shared", str(fleet.folder / "back.fluiddesk")
    told = copy_database(fleet.address, postgres_address, moment=LATER, papers=shared)
    assert told == f"1 paper copied to {shared}."
    assert check_database(postgres_address) == []
    with open_store(postgres_address, read_only=True) as store:
        assert papers_folder(store) == shared.absolute()
    assert copy_database(postgres_address, back, moment=LATER).startswith("1 paper copied to ")
    assert check_database(back) == []
    shutil.rmtree(shared)
    again = copy_database(postgres_address, str(fleet.folder / "again.fluiddesk"), moment=LATER)
    assert again == (
        f"1 paper not copied: {shared} is not there. Bring the folder back and copy it by hand."
    )


def test_that_papers_left_behind_are_told_with_the_way_to_bring_them(
    fleet: Fleet, owner: PaperOwner, postgres_address: str
):
    attach(fleet.place, owner, paper(fleet), moment=NOW)
    told = copy_database(fleet.address, postgres_address, moment=LATER)
    beside = f"{fleet.address}.papers"
    assert told.startswith(f"1 paper not copied: they stay in {beside}. Copy that folder to one")
    assert "fluiddesk database papers FOLDER --database " in told
    back = copy_database(postgres_address, str(fleet.folder / "back.fluiddesk"), moment=LATER)
    assert "no folder was named for them" in back
    shared, other = fleet.folder / "shared", fleet.folder / "other"
    shutil.copytree(beside, shared)
    with open_store(postgres_address) as store:
        place = replace(fleet.place, store=store)
        assert name_papers_folder(place, shared, moment=LATER) is None
        assert check_papers(store) == []
        assert name_papers_folder(place, other, moment=LATER) == shared
        assert papers_folder(store) == other
        shutil.rmtree(shared)
        assert check_papers(store) == [], "papers kept so far go along to the new folder"


def test_that_a_folder_that_cannot_be_made_is_named(fleet: Fleet):
    blocked = paper(fleet, "in_the_way")
    with pytest.raises(CannotWriteError, match="in_the_way"):
        keep(paper(fleet), blocked / "papers")


@pytest.mark.postgres
def test_that_a_database_on_a_server_needs_a_folder_named_once(either_fleet: Fleet):
    if either_fleet.place.store.is_file:
        return
    machine = PaperOwner(OwnerKind.COMPARTMENT, either_fleet.boxes("engine")[0].compartment_id)
    with pytest.raises(UsageError, match="fluiddesk database papers FOLDER"):
        attach(either_fleet.place, machine, paper(either_fleet), moment=NOW)
    name_papers_folder(either_fleet.place, either_fleet.folder / "shared", moment=NOW)
    attach(either_fleet.place, machine, paper(either_fleet), moment=NOW)
    assert check_papers(either_fleet.place.store) == []


def test_that_remarks_are_kept_searched_and_taken_back(fleet: Fleet, owner: PaperOwner):
    made = add_remark(fleet.place, owner, "  Seal wept at the flange\n", moment=NOW)
    assert [one.words for one in remarks_of(fleet.place, owner)] == ["Seal wept at the flange"]
    [hit] = find(build_index(fleet.place), "flange").hits
    assert (hit.kind, hit.compartment_id) == (HitKind.REMARK, owner.id)
    withdraw_remark(fleet.place, made.id, reason="other box", moment=LATER)
    assert remarks_of(fleet.place, owner) == ()
    assert find(build_index(fleet.place), "flange").hits == ()


@pytest.mark.parametrize(("words", "said"), [(" ", "is empty"), ("x" * 2001, "Shorten it")])
def test_that_a_remark_says_something_and_not_too_much(
    fleet: Fleet, owner: PaperOwner, words: str, said: str
):
    with pytest.raises(OperatorError, match=said):
        add_remark(fleet.place, owner, words, moment=NOW)


def test_that_taking_a_remark_back_needs_a_reason(fleet: Fleet, owner: PaperOwner):
    made = add_remark(fleet.place, owner, "a", moment=NOW)
    with pytest.raises(OperatorError, match="Write why"):
        withdraw_remark(fleet.place, made.id, reason="", moment=LATER)


def test_that_papers_are_found_by_their_name(fleet: Fleet, owner: PaperOwner):
    attach(fleet.place, owner, paper(fleet, "R-4711 scan.pdf"), moment=NOW)
    [hit] = find(build_index(fleet.place), "4711 scan").hits
    assert (hit.kind, hit.found) == (HitKind.PAPER, "R-4711 scan.pdf")
    assert hit.compartment_id == owner.id

"""Folders of nights: never one twice, whatever the clock says; cut-short ones are closed by the next night."""

from datetime import date

import pytest

from assembly.api.nights.dated import close_cut_short, new_folder
from assembly.errors import OutputError

TODAY, YESTERDAY = date(2026, 3, 2), date(2026, 3, 1)


def test_nights_of_one_day_are_counted(tmp_path):
    assert [new_folder(tmp_path, TODAY).name for _ in range(3)] == ["2026-03-02_1", "2026-03-02_2", "2026-03-02_3"]


def test_a_removed_night_is_not_made_again_below_a_later_one(tmp_path):
    for _ in range(2):
        last = new_folder(tmp_path, TODAY)
    (tmp_path / "2026-03-02_1").rmdir()
    assert (new_folder(tmp_path, TODAY).name, last.name) == ("2026-03-02_3", "2026-03-02_2")


def test_a_clock_that_is_set_back_overwrites_nothing(tmp_path):
    new_folder(tmp_path, YESTERDAY)
    new_folder(tmp_path, TODAY)
    assert new_folder(tmp_path, YESTERDAY).name == "2026-03-01_2"


def test_files_of_that_name_and_other_folders_are_in_nobodys_way(tmp_path):
    (tmp_path / "2026-03-02_1").write_text("mine", encoding="utf-8")
    (tmp_path / "2026-03-02_09_notes").mkdir()
    assert new_folder(tmp_path, TODAY).name == "2026-03-02_2"
    assert (tmp_path / "2026-03-02_1").read_text(encoding="utf-8") == "mine"


def test_a_night_that_was_cut_short_is_closed_once_and_keeps_what_it_had(tmp_path):
    cut, whole = new_folder(tmp_path, YESTERDAY), new_folder(tmp_path, TODAY)
    (whole / "report.txt").write_text("CLEAR", encoding="utf-8")
    (cut / "gate").mkdir()
    (cut / "gate" / "record.json").write_text("{}", encoding="utf-8")
    (cut / "gate" / ".pairs.csv-12-ab.part").write_text("ha", encoding="utf-8")
    (tmp_path / "mine").mkdir()
    assert close_cut_short(tmp_path) == [cut]
    assert close_cut_short(tmp_path) == []
    assert [path.name for path in (cut / "gate").iterdir()] == ["record.json"]
    assert "cut short" in (cut / "report.txt").read_text(encoding="utf-8")
    assert (whole / "report.txt").read_text(encoding="utf-8") == "CLEAR"
    assert list((tmp_path / "mine").iterdir()) == []


def test_a_folder_that_cannot_be_used_is_told(tmp_path):
    for folder in (tmp_path / "gone", tmp_path / "file"):
        (tmp_path / "file").write_text("in the way", encoding="utf-8")
        with pytest.raises(OutputError, match="cannot write to"):
            new_folder(folder, TODAY)
        with pytest.raises(OutputError, match="cannot write to"):
            close_cut_short(folder)

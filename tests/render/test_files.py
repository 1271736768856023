"""A file is written whole or not at all."""

from __future__ import annotations

import os

import pytest

from generator.render.files import write_whole


def test_a_file_holds_all_its_bytes_and_nothing_lies_beside_it(tmp_path):
    write_whole(tmp_path / "a.bin", b"12345")
    assert (tmp_path / "a.bin").read_bytes() == b"12345"
    assert os.listdir(tmp_path) == ["a.bin"]


def test_an_old_file_is_replaced_and_keeps_its_rights(tmp_path):
    path = tmp_path / "a.bin"
    path.write_bytes(b"old")
    path.chmod(0o640)
    write_whole(path, b"new")
    assert path.read_bytes() == b"new"
    assert path.stat().st_mode & 0o777 == 0o640


def test_after_a_failure_the_old_file_stands_and_nothing_else_does(tmp_path, monkeypatch):
    path = tmp_path / "a.bin"
    path.write_bytes(b"old")

    def broken(fd):
        raise OSError(5, "Input/output error")

    monkeypatch.setattr(os, "fsync", broken)
    with pytest.raises(OSError, match="Input/output"):
        write_whole(path, b"new")
    assert path.read_bytes() == b"old"
    assert os.listdir(tmp_path) == ["a.bin"]


def test_a_missing_folder_is_an_error_of_its_own(tmp_path):
    with pytest.raises(FileNotFoundError):
        write_whole(tmp_path / "none" / "a.bin", b"x")

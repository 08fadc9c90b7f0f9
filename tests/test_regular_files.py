"""What is opened in a folder of somebody else's, by the way of POSIX systems and by that of others.

Flags and refusals: POSIX.1-2017, open(2) (O_NOFOLLOW, O_NONBLOCK), read anew in the manual of Linux.
"""

import os

import pytest

from handsfree import regular_files
from handsfree.regular_files import (
    is_regular,
    names_within,
    open_within,
    read_named,
    read_within,
    rename_within,
    unlink_within,
)


@pytest.fixture(params=["by handle", "by name"], autouse=True)
def way(request, monkeypatch):
    """The way of POSIX systems, and that of a system that opens no folders and knows no flag against links."""
    if request.param == "by name":
        monkeypatch.setattr(regular_files, "_BY_HANDLE", False)
        monkeypatch.setattr(regular_files, "_NO_LINK", 0)
    return request.param


@pytest.fixture
def folder(tmp_path):
    """A folder with a file and a folder; outside of it a foreign one."""
    inside = tmp_path / "inside"
    (inside / "below").mkdir(parents=True)
    (inside / "file").write_bytes(b"own")
    (inside / "below" / "file").write_bytes(b"own below")
    (tmp_path / "foreign").mkdir()
    (tmp_path / "foreign" / "file").write_bytes(b"foreign")
    return inside


def test_a_regular_file_is_read_at_any_depth(folder):
    assert read_within(folder, "file", 3) == b"own"
    assert read_within(folder, "below/file", 100) == b"own below"
    assert read_named(folder / "file") == b"own"


def test_a_file_that_is_larger_than_it_may_be_is_refused_whatever_its_size_says(folder):
    with pytest.raises(OSError, match="it is larger than 2 bytes"):
        read_within(folder, "file", 2)
    with pytest.raises(OSError, match="it is larger than 2 bytes"):
        read_named(folder / "file", 2)


def linked_file(folder):
    (folder / "odd").symlink_to(folder.parent / "foreign" / "file")
    return "odd"


def linked_folder(folder):
    (folder / "odd").symlink_to(folder.parent / "foreign")
    return "odd/file"


def dangling_link(folder):
    (folder / "odd").symlink_to("nowhere")
    return "odd"


def pipe(folder):
    os.mkfifo(folder / "odd")
    return "odd"


def endless(folder):
    (folder / "odd").symlink_to("/dev/zero")
    return "odd"


def a_folder(folder):
    return "below"


ODD = [
    (linked_file, "it is a link"),
    (linked_folder, "it is a link"),
    (dangling_link, "it is a link"),
    (pipe, "it is no regular file"),
    (endless, "it is a link"),
    (a_folder, "Is a directory"),
]


@pytest.mark.parametrize(("odd", "told"), ODD)
@pytest.mark.parametrize("flags", [os.O_RDONLY, os.O_RDWR, os.O_WRONLY | os.O_CREAT | os.O_TRUNC])
def test_what_is_no_regular_file_of_the_folder_is_not_opened(folder, odd, told, flags):
    name = odd(folder)
    with pytest.raises(OSError, match=r".") as error:
        os.close(open_within(folder, name, flags))
    assert error.value.strerror.startswith(told)
    assert (folder.parent / "foreign" / "file").read_bytes() == b"foreign"
    assert not (folder / "nowhere").exists()


def test_a_device_and_a_pipe_are_not_read_where_the_user_named_them(folder):
    for name in ("/dev/zero", folder / pipe(folder)):
        with pytest.raises(OSError, match="it is no regular file"):
            read_named(folder / name)
    assert read_named(folder / "odd" if (folder / "odd").unlink() else folder / linked_file(folder)) == b"foreign"


@pytest.mark.parametrize("name", ["", "..", "../foreign/file", "below/../../foreign/file", "/etc/passwd", "a\0b"])
def test_no_name_leads_out_of_the_folder(folder, name):
    with pytest.raises(OSError, match="is no name inside the folder"):
        read_within(folder, name, 100)


def test_a_name_is_taken_out_and_never_what_a_link_leads_to(folder):
    unlink_within(folder, linked_file(folder))
    assert not os.path.lexists(folder / "odd")
    with pytest.raises(OSError, match="it is a link"):
        unlink_within(folder, linked_folder(folder))
    unlink_within(folder, "below/file")
    unlink_within(folder, "below/file")
    assert list((folder / "below").iterdir()) == []
    assert (folder.parent / "foreign" / "file").read_bytes() == b"foreign"


def test_a_file_gets_another_name_and_replaces_what_has_it(folder):
    (folder / "below" / "other").write_bytes(b"older")
    rename_within(folder, "below/file", "below/other")
    assert [(path.name, path.read_bytes()) for path in (folder / "below").iterdir()] == [("other", b"own below")]
    with pytest.raises(OSError, match="it is a link"):
        rename_within(folder, linked_folder(folder), "odd/taken")


def test_names_of_a_folder_and_none_of_a_linked_one(folder):
    assert names_within(folder, "below") == ("file",)
    assert names_within(folder, "nowhere") == ()
    linked_folder(folder)
    assert names_within(folder, "odd") == ()


def test_a_link_is_no_regular_file(folder):
    assert is_regular(folder / "file")
    assert not is_regular(folder / linked_file(folder))
    assert not is_regular(folder / "nowhere")
    assert not is_regular(folder / ("n" * 300))


def test_a_file_that_is_replaced_by_a_link_after_the_look_is_not_opened(folder, way, monkeypatch):
    looked, swaps = os.stat, []

    def swapped(name, **how):
        found = looked(name, **how)
        if str(name).endswith("file") and not swaps:
            swaps.append(name)
            (folder / "file").unlink()
            (folder / "file").symlink_to(folder.parent / "foreign" / "file")
        return found

    with monkeypatch.context() as patch:
        patch.setattr(os, "stat", swapped)
        with pytest.raises(OSError, match="replaced while it was opened" if way == "by name" else "symbolic links"):
            read_within(folder, "file", 100)

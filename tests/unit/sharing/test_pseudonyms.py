"""Other names: equal to the published hash, kept apart by kind, never without their key."""

import base64
import hashlib
import hmac
import os
import stat

import pytest

from pipelines.errors import WorkspaceError
from pipelines.sharing.pseudonyms import Pseudonyms, kept_key

KEY = bytes(range(32))


def test_the_hash_is_the_published_one() -> None:
    # RFC 4231, test case 2: key "Jefe", data "what do ya want for nothing?" (read from memory, recomputed here).
    published = "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843"
    assert hmac.new(b"Jefe", b"what do ya want for nothing?", hashlib.sha256).hexdigest() == published
    expected = hmac.new(b"Jefe", b"V\x1fK-1004", hashlib.sha256).digest()[:10]
    assert Pseudonyms(b"Jefe").name("V", "K-1004") == "V-" + base64.b32encode(expected).decode()


def test_names_are_the_same_for_one_key_and_differ_by_kind_key_and_words() -> None:
    one, other = Pseudonyms(KEY), Pseudonyms(KEY[::-1])
    assert one.name("V", "K-1004") == Pseudonyms(KEY).name("V", "K-1004")
    made = [
        *(one.name("V", "K-1004"), one.name("J", "K-1004"), one.name("V", "K-1005"), other.name("V", "K-1004")),
        *(one.name("J", "K-1004", "12"), one.name("J", "K-10041", "2")),
    ]
    assert len(set(made)) == len(made)
    assert one.mark != other.mark
    assert one.mark == Pseudonyms(KEY).mark


def test_days_are_moved_by_1_to_52_weeks_and_every_number_of_weeks_occurs() -> None:
    weeks = [Pseudonyms(KEY).weeks_back(f"K-{k}") for k in range(2000)]
    assert set(weeks) == set(range(1, 53))


def test_the_key_is_made_once_for_its_owner_alone_and_anew_when_asked(tmp_path) -> None:
    path = tmp_path / "state" / "share.key"
    key = kept_key(path)
    assert len(key) == 32
    assert kept_key(path) == key == path.read_bytes()
    if os.name != "nt":
        assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert kept_key(path, new=True) != key
    assert len(list(path.parent.iterdir())) == 1, "the old key is gone"


@pytest.mark.skipif(os.name == "nt", reason="Windows has no such modes")
def test_a_key_that_others_can_read_is_refused(tmp_path) -> None:
    path = tmp_path / "share.key"
    kept_key(path)
    path.chmod(0o640)
    with pytest.raises(WorkspaceError, match=r"share\.key can be read by others; 'chmod 600' it, or make another"):
        kept_key(path)
    kept_key(path, new=True)
    assert stat.S_IMODE(path.stat().st_mode) == 0o600


def test_a_file_that_is_no_key_is_refused(tmp_path) -> None:
    path = tmp_path / "share.key"
    path.write_bytes(b"short")
    path.chmod(0o600)
    with pytest.raises(WorkspaceError, match=r"share\.key is no key of 32 bytes; 'knockon share --new-key' makes"):
        kept_key(path)

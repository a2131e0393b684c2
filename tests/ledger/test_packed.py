"""How a body is kept: whatever it says comes out again, to the letter, of whichever version's bytes."""

from hypothesis import example, given
from hypothesis import strategies as st

from qcledger.ledger.chain import canonical
from qcledger.ledger.packed import LARGEST, NO_BODY, pack, unpack

ID = "51b90653-50a5-55cb-b723-00d6195c84c0"
HASH = "96b36c449338f7500d5458b424bc6c5d6912364ae62fecfce6689275fc9f05b8"
BODY = canonical(
    {
        "reason": "",
        "record": {
            "at": "2022-07-25T10:00:00.000000Z",
            "censored": "exact",
            "criterion": "opacity",
            "grade": 5.0,
            "id": ID,
            "note": "dünn, „weiß“",
            "reason": "",
            "rubric": HASH,
            "tester": "Oda Vane",
            "trial": ID[::-1].replace("-", "x"),
        },
    }
)
KEPT = bytes.fromhex(
    "23e458235d03735d2353321c9b0f4c8cc02609c2cda6083707ee640b0e581a7a7abb32c335c9989603083fa41cde9397a7a3"
    "f0a8615e796ae6e1f98f1ae6e0f4d5b4cd392e932dbe07f086446c51d993139b2964e6f54cffcd9f6719934affcc67dd81ec"
    "6bff944485b0c4bc5424df1b249b58249b5a1a9aa5181854181b99275524259b9a5698261a9856189b9a195826199a020308"
    "00"
)
"""What version 4 keeps of it."""

PARTS = st.one_of(
    st.text(st.characters(exclude_categories=["Cs"])),
    st.sampled_from([ID, ID.upper(), ID[1:], HASH, HASH[:63], HASH + ID, HASH * 2, '"id":"', "ÿþ", "\x00"]),
    st.text("0123456789abcdef-", min_size=30, max_size=80),
)


@given(st.lists(PARTS).map("".join))
@example("")
@example(ID + ID + HASH)
@example(ID[:8] + HASH)
def test_what_is_packed_comes_out_again(text):
    """Any text, whatever in it looks like an id or a hash, or nearly so."""
    assert unpack(pack(text)) == text


def test_what_was_kept_once_can_be_read():
    """Ledgers hold what this dictionary packed: an edit of it would lose their bodies."""
    assert unpack(KEPT) == BODY


def test_a_body_takes_less_than_half_of_its_room():
    """Which is what all this is for."""
    assert len(pack(BODY)) < len(BODY.encode()) / 2


@given(st.binary())
def test_bytes_that_were_never_packed_are_no_body(kept):
    """They are read as something that is no body of an entry, or as a text; never an error."""
    found = unpack(kept)
    assert found == NO_BODY or unpack(pack(found)) == found


def test_cut_or_lengthened_bytes_are_no_body():
    """Every end is looked at: nothing may be missing, and nothing stand behind."""
    kept = pack(BODY)
    assert {unpack(kept[:length]) for length in range(len(kept))} == {NO_BODY}
    assert unpack(kept + b"\x00") == NO_BODY


def test_few_bytes_that_say_many_are_not_unpacked():
    """A body that would fill the memory is none."""
    assert unpack(pack("z" * (LARGEST + 1))) == NO_BODY

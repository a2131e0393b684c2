"""Ids made from what a row says: those of the standard library, on every machine."""

import json
from uuid import UUID, uuid5

from hypothesis import given
from hypothesis import strategies as st

from qcledger.records import minted as module
from qcledger.records.minted import minted

TEXTS = st.text(st.characters(exclude_categories=["Cs"]))


@given(TEXTS, st.lists(TEXTS))
def test_an_id_is_the_uuid_of_version_5(table, content):
    """As Python's own `uuid5` makes it of the JSON list of what the row says (RFC 9562, section 5.5)."""
    namespace = UUID(bytes=module._NAMESPACE)
    assert minted(table, *content) == str(uuid5(namespace, json.dumps([table, *content], ensure_ascii=False)))


def test_an_id_stays_what_it_was():
    """Ids in ledgers were made so: another spelling would make every row of a sheet new."""
    assert minted("maker", "some maker") == "5f6a91ef-3e0f-5a75-9ece-626ffcd53d4b"

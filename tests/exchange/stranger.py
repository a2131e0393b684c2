"""A stranger with an exchange folder and pandas: counts by the rules of the folder's README, and by nothing else."""

import json
from pathlib import Path

import pandas as pd
import yaml

CELL = ["criterion", "maker_name", "format"]


class Stranger:
    """Reads one folder; nothing of the program is used."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.entries = self.table("entries")

    def table(self, name: str) -> pd.DataFrame:
        """Return a table as text, as the README says it is to be read first."""
        return pd.read_csv(self.folder / f"{name}.csv", dtype=str, keep_default_na=False)

    def counts(self) -> pd.DataFrame:
        """Return the counts of each cell under the names of the README."""
        seen = self._apart(self._possible(self._named(self._graded(self._standing()))))
        when = pd.to_datetime(seen["trial_at"], format="ISO8601")
        seen = seen.assign(when=when).sort_values(["when", "trial", "at", "id"])
        first = seen.drop_duplicates(["specimen", "criterion", "apart"])
        counted = pd.DataFrame(index=pd.MultiIndex.from_frame(seen[CELL].drop_duplicates()))
        for name, rows in self._rows(seen, first).items():
            counted[name] = rows.groupby(CELL).size()
        tested = first[(first["apart"] == "") & first["grade"].notna()]
        for name, (rows, what) in self._kinds(tested).items():
            counted[name] = rows.groupby(CELL)[what].nunique()
        counted = counted.fillna(0).astype(int)
        groups = tested.groupby(CELL)
        counted["rate"] = counted["faulty"] / counted["specimens"]
        counted["median_grade"] = groups["grade"].median()
        return counted.join(groups["bought_on"].agg(bought_first="min", bought_last="max"))

    @staticmethod
    def _rows(seen: pd.DataFrame, first: pd.DataFrame) -> dict[str, pd.DataFrame]:
        counts = first[first["apart"] == ""]
        tested = counts[counts["grade"].notna()]
        found = {
            "specimens": tested,
            "faulty": tested[tested["faulty"]],
            "not_testable": counts[counts["grade"].isna() & (counts["choice"] == "")],
            "in_void_sessions": seen[seen["apart"] == "void"],
            "on_other_paper": seen[seen["apart"] == "paper"],
        }
        for why in ("planned", "to confirm", "because of a note"):
            name = why.replace(" a ", " ").replace(" ", "_")
            found[name] = tested[tested["why"] == why]
        for name, apart in (("gifts", "gift"), ("older_notes", "older")):
            found[name] = first[first["apart"] == apart]
        for name in ("planned", "to_confirm", "because_of_note", "gifts", "older_notes"):
            found[f"{name}_faulty"] = found[name][found[name]["faulty"]]
        return found

    @staticmethod
    def _kinds(tested: pd.DataFrame) -> dict[str, tuple[pd.DataFrame, str]]:
        coded, faulty = tested["lot"] != "", tested["faulty"]
        pairs = tested.assign(pair=tested["parcel"] + " " + tested["paint"])
        return {
            "lots": (tested[coded], "lot"),
            "lots_with_fault": (tested[coded & faulty], "lot"),
            "parcels_without_code": (pairs[~coded], "pair"),
            "paints": (tested, "paint"),
            "paints_with_fault": (tested[faulty], "paint"),
            "sellers": (tested, "seller"),
            "parcels": (tested, "parcel"),
        }

    def _standing(self) -> pd.DataFrame:
        """Rule 1: observations that no other of the same tester supersedes, less those taken back."""
        seen, books = self.table("observation"), self.table("daybook").set_index("id")
        tester = (books["letters"] + "\n" + books["tester"]).str.casefold()
        written = self.entries[self.entries["kind"] == "observation"].drop_duplicates("subject")
        written = written.set_index("subject")
        seen["whose"] = seen["id"].map(written["daybook"]).map(tester)
        seen["written_at"] = pd.to_datetime(seen["id"].map(written["at"]), format="ISO8601")
        whose = seen.set_index("id")["whose"]
        newer = seen[seen["supersedes"] != ""]
        gone = newer[newer["whose"] == newer["supersedes"].map(whose)]["supersedes"]
        seen = seen[~seen["id"].isin(gone) & (seen["not_testable"] != "taken back")]
        trials = self.table("trial").rename(columns={"id": "trial", "at": "trial_at"}).drop(columns="note")
        return seen.merge(trials, on="trial")

    def _graded(self, seen: pd.DataFrame) -> pd.DataFrame:
        """Rules 2 and 3: criteria with a fault line that quote no label, and the grades that stand."""
        scales = [
            {
                "rubric": row.id,
                "criterion": key,
                "line": (block.get("fault_line") or {}).get("grade"),
                "label_fact": block.get("label_fact"),
                "seen_at": block["seen_at"],
            }
            for row in self.table("rubric_text").itertuples()
            for key, block in yaml.safe_load(row.text)["criteria"].items()
        ]
        seen = seen.merge(pd.DataFrame(scales), on=["rubric", "criterion"])
        seen["grade"] = pd.to_numeric(seen["grade"])
        assert seen[seen["grade"].isna() & (seen["reading"] != "")].empty, "a bare reading: rule 3 needs its limits"
        seen["faulty"] = seen["grade"] >= seen["line"]
        return seen[seen["line"].notna() & seen["label_fact"].isna()]

    def _named(self, seen: pd.DataFrame) -> pd.DataFrame:
        """Rule 5: makers and paints that are one, and where each specimen is from."""
        pieces = self.table("specimen").rename(columns={"id": "specimen"})
        pieces = pieces[["specimen", "paint", "format", "parcel", "lot", "source", "why", "state"]]
        parcels = self.table("parcel").rename(columns={"id": "parcel"})
        paints = self._paints()
        makers = self.table("maker").set_index("id")["name"]
        pieces = pieces.merge(parcels[["parcel", "bought_on", "received_on", "seller"]], on="parcel")
        pieces = pieces.merge(paints, on="paint")
        pieces["maker_name"] = pieces["maker"].map(makers)
        lots = self.table("lot")
        lots["paint"] = lots["paint"].map(paints.set_index("paint")["one"])
        same_lot = self._alike(lots, ["paint", "format", "code"])
        pieces["lot"] = pieces["lot"].map(lambda lot: same_lot.get(lot, lot))
        return seen.merge(pieces.drop(columns="paint").rename(columns={"one": "paint"}), on="specimen")

    def _paints(self) -> pd.DataFrame:
        """Return paint, the paint it counts as, and its maker, each maker as the one it counts as."""
        paints, one_maker = self.table("paint"), self._one("maker")
        assert (paints["number"] == "").all(), "numbers: rule 5 needs them"
        paints["maker"] = paints["maker"].map(lambda maker: one_maker.get(maker, maker))
        alike, said = self._alike(paints, ["maker", "name"]), self._one("paint")
        paints["one"] = paints["id"].map(alike).map(lambda paint: said.get(paint, paint))
        return paints.rename(columns={"id": "paint"})[["paint", "one", "maker"]]

    @staticmethod
    def _alike(rows: pd.DataFrame, names: list[str]) -> dict[str, str]:
        """Return for each row the smallest id of those that are equal in these columns, case aside."""
        same = rows[names].apply(lambda column: column.str.casefold())
        return dict(zip(rows["id"], rows["id"].groupby([same[name] for name in names]).transform("min"), strict=True))

    def _one(self, table: str) -> dict[str, str]:
        """Return for each row declared the same as another the row it counts as."""
        said = self.table("same_as")
        said = said[(said["subject_table"] == table) & (said["kind"] == "same as") & (said["undone"] != "yes")]
        return dict(zip(said["subject"], said["other"], strict=True))

    @staticmethod
    def _possible(seen: pd.DataFrame) -> pd.DataFrame:
        """Rule 4, as far as days, times and places tell, and one result of a trial on a criterion."""
        hours = pd.Timedelta(hours=14)
        came = pd.to_datetime(seen["received_on"].where(seen["received_on"] != "", seen["bought_on"]), utc=True)
        at = pd.to_datetime(seen["at"], format="ISO8601")
        trial_at = pd.to_datetime(seen["trial_at"], format="ISO8601")
        older = seen["occasion"] == "older notes"
        elsewhere = ~older & (seen["seen_at"] != seen["occasion"])
        early = ~older & ((at < came - hours) | (trial_at < came - hours))
        late = (at > seen["written_at"] + hours) | (trial_at > seen["written_at"] + hours)
        return seen[~elsewhere & ~early & ~late].sort_values(["at", "id"]).drop_duplicates(["trial", "criterion"])

    def _apart(self, seen: pd.DataFrame) -> pd.DataFrame:
        """Rule 6: the first reason for which a trial counts apart."""
        sheets = self.table("sheet").rename(columns={"id": "sheet"})[["sheet", "paper"]]
        places = self.table("run_row").rename(columns={"id": "run_row"})[["run_row", "sheet", "role"]]
        wanted = self.table("comparison").rename(columns={"id": "comparison"})[["comparison", "reference_paper"]]
        sessions = self.table("session").rename(columns={"id": "session"})[["session", "comparison"]]
        sessions = sessions.merge(wanted, on="comparison")
        seen = seen.merge(places.merge(sheets, on="sheet"), on="run_row", how="left")
        seen = seen.merge(sessions, on="session", how="left").fillna({"reference_paper": "", "role": "", "paper": ""})
        reasons = {
            "mix": seen["mixed_with"] != "",
            "repeat": seen["role"] == "hidden repeat",
            "void": seen["session"].isin(self._void()),
            "paper": (seen["reference_paper"] != "") & (seen["paper"] != seen["reference_paper"]),
            "older": seen["occasion"] == "older notes",
            "gift": seen["source"] == "gift",
        }
        seen["apart"] = ""
        for name, holds in reasons.items():
            seen.loc[holds & (seen["apart"] == ""), "apart"] = name
        return seen

    def _void(self) -> set[str]:
        """Return the sessions whose last decision, in the order of the entries, is that they are void."""
        last: dict[str, str] = {}
        for entry in self.entries[self.entries["kind"] == "decision"].itertuples():
            said = json.loads(entry.body)["record"]
            if said["subject_table"] == "session" and said["kind"] in ("void", "reinstate"):
                last[said["subject"]] = said["kind"]
        return {session for session, kind in last.items() if kind == "void"}

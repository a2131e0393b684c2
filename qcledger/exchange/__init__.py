"""In and out: exchange folders, other testers' daybooks, and other people's spreadsheets.

`to_folder` writes a ledger as an exchange folder; `merge_folder` takes the daybooks of one in as they are;
`plan_folder` and `plan_mapped` say what rows in files would add as new entries, and `carry_out` adds them.
"""

from qcledger.exchange.columnmap import ColumnMap
from qcledger.exchange.columnmap import load as load_map
from qcledger.exchange.export import to_folder
from qcledger.exchange.folder import plan_folder
from qcledger.exchange.guess import propose
from qcledger.exchange.mapped import plan_mapped
from qcledger.exchange.merge import merge_folder
from qcledger.exchange.plan import ImportPlan, carry_out, try_out

__all__ = [
    "ColumnMap",
    "ImportPlan",
    "carry_out",
    "load_map",
    "merge_folder",
    "plan_folder",
    "plan_mapped",
    "propose",
    "to_folder",
    "try_out",
]

"""What earlier runs found, in one SQLite file, and what changed from one run to another."""

from assembly.history.comparing import SHRANK_MM, compare
from assembly.history.database_file import history_path, open_history
from assembly.history.runs import History

__all__ = ["SHRANK_MM", "History", "compare", "history_path", "open_history"]

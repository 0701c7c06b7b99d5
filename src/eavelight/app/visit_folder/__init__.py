"""Reading a visit folder: `visit.toml` plus the evidence files it lists.

All mistakes are reported together, each with file, place, what was expected, what was
found and the nearest known name.
"""

from eavelight.app.visit_folder.read import VisitFolder, read_visit_folder

__all__ = ["VisitFolder", "read_visit_folder"]

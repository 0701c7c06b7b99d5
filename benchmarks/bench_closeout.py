"""Speed of the closeout in a running process, on visits of the invented crew."""

import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median

from eavelight.app.assess_visit import assess_visit
from eavelight.app.close_out import close_out, material_of
from eavelight.closeout import closeout_document, closeout_html, closeout_pdf
from eavelight.demo.crew import build_crew

REPEATS = 5


def seconds(work: Callable[[], object]) -> str:
    work()
    taken = []
    for _ in range(REPEATS):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return f"{median(taken):.2f} s"


def run() -> list[tuple[str, str, str]]:
    rows = []
    with tempfile.TemporaryDirectory() as name:
        root = Path(name)
        folders = [folder for _, folder in build_crew(root)]
        out = root / "closeout.pdf"
        for folder in folders:
            place = str(folder)
            rows.append(
                (
                    f"closeout PDF of {folder.name}, from folder to file",
                    seconds(lambda place=place: close_out(place, out, alone=True)),
                    "under 1.5 s",
                )
            )
        material = material_of(assess_visit(str(folders[0]), alone=True))
        document = closeout_document(material)
        for what, work in (
            ("document alone", lambda: closeout_document(material)),
            ("PDF of a document", lambda: closeout_pdf(document)),
            ("page of a document", lambda: closeout_html(document)),
        ):
            rows.append((what, seconds(work), ""))
    return rows

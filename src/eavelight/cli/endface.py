"""`eavelight endface IMAGE...`: grade pictures of connector end faces."""

from pathlib import Path

import click

EXIT = {"pass": 0, "fail": 1, "undecided": 2, "refused": 3, "error": 65}
# from best to worst: several pictures exit with the worst
ORDER = ("pass", "undecided", "refused", "fail", "error")
FILE = click.Path(path_type=Path, dir_okay=False)


@click.command()
@click.argument("images", nargs=-1, required=True, type=FILE)
@click.option(
    "--polish",
    type=click.Choice(["apc", "pc", "pc26", "mm"]),
    default="apc",
    show_default=True,
    help="Class to grade against.",
)
@click.option(
    "--um-per-px", type=click.FloatRange(min=0.01, max=100), help="Stated scale."
)
@click.option("--before", type=FILE, help="The same face before cleaning.")
@click.option(
    "--fibre", type=click.IntRange(min=1), help="Which of several, from the left."
)
@click.option("--overlay", type=FILE, help="Write the picture with its marks (PNG).")
@click.option("--json", "as_json", is_flag=True, help="Print the JSON of the contract.")
def endface(
    images: tuple[Path, ...],
    *,
    polish: str,
    um_per_px: float | None,
    before: Path | None,
    fibre: int | None,
    overlay: Path | None,
    as_json: bool,
) -> int:
    """Grade pictures of connector end faces, or refuse a bad one.

    IMAGE is a PNG, JPEG, TIFF or BMP file. Exit code: 0 pass, 1 fail, 2 cannot tell,
    3 refused, 65 unreadable; several pictures exit with the worst.
    """
    from eavelight.app.endface_files import face_overlay, grade_files
    from eavelight.cli.endface_text import print_faces, print_faces_json
    from eavelight.cli.progress import steps

    single = len(images) == 1
    if not single and (before or overlay):
        raise click.UsageError("--before and --overlay go with one picture")
    graded = grade_files(
        images, polish=polish, um_per_px=um_per_px, which=fibre, before=before
    )
    watched = steps(graded, total=len(images), label="grading")
    if overlay is not None:
        watched = iter(kept := list(watched))
    show = print_faces_json if as_json else print_faces
    verdicts = show(watched, single=single)
    if overlay is not None and (drawn := face_overlay(kept[0])) is not None:
        overlay.write_bytes(drawn)
    return EXIT[max(verdicts, key=ORDER.index)]

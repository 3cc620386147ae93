"""``freestand calibrate``: a reference photo in, a calibration file out."""

from pathlib import Path
from typing import Annotated

import typer

app = typer.Typer()


@app.command()
def calibrate(
    reference_photo: Annotated[
        Path, typer.Argument(help="Photo of the target on the plate.")
    ],
    reference: Annotated[
        Path, typer.Option(help="REF.toml: the target's kind and sizes.")
    ],
    out: Annotated[Path, typer.Option(help="The calibration file to write.")],
    lens: Annotated[
        Path | None, typer.Option(help="Lens file from 'freestand lens'.")
    ] = None,
    distance_mm: Annotated[
        float | None,
        typer.Option(help="Lens to target, measured with a tape, in mm."),
    ] = None,
    *,
    quiet: Annotated[bool, typer.Option(help="Print nothing.")] = False,
) -> None:
    """Find the target and solve camera, scale and plate.

    Example: freestand calibrate square.jpg --reference ref.toml --out cal.json
    """
    from calib.store import save_calibration  # noqa: PLC0415
    from vision.cli.inputs import calibrate_photo, read_target  # noqa: PLC0415
    from vision.cli.results import spare_inputs  # noqa: PLC0415

    spare_inputs((out,), (reference_photo, reference, lens))
    target = read_target(reference, lens, distance_mm)
    calibration = calibrate_photo(reference_photo, target)
    save_calibration(calibration, out)
    if quiet:
        return
    scale, camera = calibration.px_per_mm, calibration.camera
    _, y, z = camera.position_mm
    typer.echo(f"Target found in {reference_photo}.")
    typer.echo(f"  scale   {scale.value:.3f} ± {scale.expanded:.3f} px/mm (U, k = 2)")
    typer.echo(f"  lens    {-y:.0f} mm before the row, {z:.0f} mm above the plate")
    typer.echo(f"  fit     edges within {calibration.residual_px:.2f} px (rms)")
    for remark in calibration.remarks:
        typer.echo(f"  note    {remark}")
    typer.echo(
        f"Written: {out}. Next: without moving the camera, photograph the row, then "
        f"freestand measure ROW.jpg --calibration {out}"
    )

"""The step ``learn``: compare marks with excavations, and write the calibration file."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import shapely

import leakgeo
from leakgeo.arrow import from_ipc, to_ipc
from leakgeo.deliver.folder.atomic import out_folder, write_atomic
from leakgeo.faults import Fault
from leakgeo.find.evidence.digs import place_holes
from leakgeo.find.learn.calibration import MAX_EXPONENT, MIN_EXPONENT, fit_calibration, outliers
from leakgeo.find.learn.cases import AT_MARK_M, DRY, compare_digs, no_cases, posterior_at_digs
from leakgeo.find.learn.tables import hit_rates, odds_table
from leakgeo.find.locate.nearby_lines import REACH_M
from leakgeo.job.model import NOT_SELECTED
from leakgeo.job.results.earlier import earlier_layers
from leakgeo.kept_pieces import Shelf
from leakgeo.options import ROUTE_SD_M
from leakgeo.provenance import content_of, json_sha256
from leakgeo.reason import Reason, columns_of
from leakgeo.registry import load_steps
from leakgeo.result import Result
from leakgeo.route.lines import lines_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    import geopandas as gpd

    from leakgeo.find.learn.calibration import Calibration, DigCase

FILE = "calibration.toml"
# Steps that locate the lines without their digs.
_BEFORE = ("ground", "profile", "locate")
# Layers of the lines without their digs that the comparison needs.
_NEEDED = ("lines", "marks", "profile", "readings_on_route")


def learn(result: Result, *, results: Path | None, least_cases: int, out: Path | None) -> Result:
    """Compare marks with excavation results, and calibrate later zones with them.

    Parameters
    ----------
    result : Result
        With ``dig_outcomes`` in its job; its own marks are compared if `results` is None.
    results : pathlib.Path or None
        The ``result.gpkg`` whose marks were dug, or its folder.
    least_cases : int
        Minimum number of excavations that count; with fewer, no calibration is made.
    out : pathlib.Path or None
        Folder for ``calibration.toml``; if None, it is not written.

    Returns
    -------
    Result
        With ``learned``, ``learned_odds`` and ``learned_cases``.

    Raises
    ------
    ParameterError
        If `results` is not a result of leakgeo.
    """
    table, digs, lines, changed = _cases(result, results)
    found = _overall_exponent(fit_calibration(digs, least_cases), lines)
    if out is not None:
        _write(found, result, out_folder(out) / FILE)
    layers = {
        "learned": hit_rates(table, found),
        "learned_odds": odds_table(table),
        "learned_cases": _with_reason_codes(table),
    }
    dry = _dry_holes_at_marks(table) if results is None else []
    return result.adding(layers, [*changed, *dry, *_faults(table, digs, found, least_cases)])


def _with_reason_codes(table: pd.DataFrame) -> pd.DataFrame:
    plain: pd.DataFrame = table.drop(columns="reason")
    return plain.assign(**columns_of("reason", table["reason"]))


def _cases(
    result: Result, results: Path | None
) -> tuple[gpd.GeoDataFrame, list[DigCase], pd.DataFrame, tuple[Fault, ...]]:
    """Return the digs compared with marks, their posteriors, the lines with the marks, and faults.

    Without a result that the digs followed, the lines that were dug are located now.
    """
    job = result.job
    earlier: Mapping[str, pd.DataFrame] = {}
    changed: tuple[Fault, ...] = ()
    if results is not None:
        earlier, changed = earlier_layers(results, job.crs)
    if job.dig_outcomes is None or job.dig_outcomes.empty:
        return no_cases(job.crs), [], pd.DataFrame(), changed
    outcomes, lines = job.dig_outcomes.reset_index(drop=True), lines_of(job, ROUTE_SD_M.number)
    placed = place_holes(outcomes, lines)
    if results is None:
        earlier = _without_digs(result, placed)
    table = compare_digs(outcomes, placed, lines, earlier)
    own = {} if results is not None else result.layers
    marked = own.get("lines", earlier["lines"])
    return table, posterior_at_digs(table, earlier["profile"], earlier["marks"]), marked, changed


def _without_digs(result: Result, placed: pd.DataFrame) -> Mapping[str, pd.DataFrame]:
    """Return the layers of the dug lines without the holes, from an earlier run if they are kept.

    They depend on the lines themselves, and on the readings of those beside.
    """
    kept, dug = result.kept, {str(name) for name in placed["line_id"].dropna()}
    if kept is None:
        return _before_digs(result, placed).layers
    routes = result.job.routes
    own = shapely.union_all(np.asarray(routes.geometry)[routes["line_id"].isin(dug)])
    beside = routes.loc[shapely.dwithin(routes.geometry.to_numpy(), own, REACH_M), "line_id"]
    inputs = sorted((str(name), kept.digests.get(str(name), "")) for name in beside.dropna())
    given = {step: {n: content_of(v) for n, v in result.parameters.get(step, {}).items()}
             for step in _BEFORE}  # fmt: skip
    shelf, key = Shelf(kept, "learn"), json_sha256([sorted(dug), inputs, given])
    stored = {name: shelf.find(f"{key}/{name}") for name in _NEEDED}
    found = {name: from_ipc(piece) for name, piece in stored.items() if piece is not None}
    if len(found) == len(_NEEDED) and all(digest for _, digest in inputs):
        return found
    layers = _before_digs(result, placed).layers
    for name in _NEEDED:
        layer = layers[name]
        shelf.store(f"{key}/{name}", to_ipc(layer[layer["line_id"].isin(dug)]))
    return layers


def _before_digs(result: Result, placed: pd.DataFrame) -> Result:
    """Locate the lines that were dug as if no hole were known, with the parameters of the run.

    What was seen in a hole moves the mark, which would then agree with the hole.
    """
    job = result.job
    routes, dug = job.routes, job.routes["line_id"].isin(placed["line_id"])
    reason = routes["reason"].mask(~dug & routes["reason"].isna(), NOT_SELECTED)
    routes = routes.assign(reason=reason).drop(columns="repaired_time", errors="ignore")
    before = Result(replace(job, routes=routes, dig_outcomes=None))
    for name in _BEFORE:
        before = load_steps()[name](before, **result.parameters.get(name, {}))
    return before


def _overall_exponent(found: Calibration | None, lines: pd.DataFrame) -> Calibration | None:
    """Return the exponent relative to the uncalibrated model.

    Marks that were made with a calibration contribute its exponent as a factor.
    """
    if found is None or "calibration_exponent" not in lines:
        return found
    known = lines["calibration_exponent"].dropna()
    before = float(known.iloc[0]) if len(known) else 1.0
    whole = min(max(found.exponent * before, MIN_EXPONENT), MAX_EXPONENT)
    return replace(found, exponent=whole, exponent_sd=found.exponent_sd * before)


def _write(found: Calibration | None, result: Result, path: Path) -> None:
    """Write the file, or remove an older one, so that later runs don't use it unnoticed."""
    if found is None:
        path.unlink(missing_ok=True)
        return
    text = (
        "# Written by leakgeo learn. Use it with --calibration FILE; runs that do say so.\n"
        "# The odds of the leak's place are raised to the exponent: below 1 zones widen.\n"
        "[calibration]\n"
        f"exponent = {found.exponent:.4f}\n"
        f"exponent_sd = {found.exponent_sd:.4f}\n"
        f"cases = {found.cases}\n"
        f'made = "{datetime.now(UTC):%Y-%m-%d}"\n'
        f'leakgeo = "{leakgeo.__version__}"\n'
        f'job_sha256 = "{result.job.digest}"\n'
    )
    write_atomic(path, lambda draft: _fill(draft, text))


def _fill(path: Path, text: str) -> None:
    path.write_text(text, encoding="utf-8", newline="\n")


def _dry_holes_at_marks(table: pd.DataFrame) -> list[Fault]:
    """Report holes without a leak at the mark that the readings alone give."""
    off = (table["hole_chainage_m"] - table["mark_chainage_m"]).abs()
    dry = (table["found"] == DRY) & (off <= AT_MARK_M)
    return [
        Fault("dig_outcomes", Reason("dry_at_mark", apart_m=apart), str(line), "found",
              effect="noted")
        for line, apart in zip(table.loc[dry, "line_id"], off[dry], strict=True)
    ]  # fmt: skip


def _faults(
    table: pd.DataFrame, digs: Sequence[DigCase], found: Calibration | None, least_cases: int
) -> list[Fault]:
    """Report excavations that do not count, and a calibration that was not made or is doubtful."""
    fresh = table[~table["counted"].astype(bool)]
    faults = [
        Fault("dig_outcomes", Reason("dig_not_counted", why=row.reason), str(row.line_id),
              effect="noted")
        for row in fresh.itertuples()
    ]  # fmt: skip
    if found is None and len(table):
        counted = int(table["counted"].sum())
        reason = Reason("too_few_digs", digs=counted, least=least_cases)
        faults.append(Fault("dig_outcomes", reason, effect="noted"))
    if lost := outliers(digs):
        reason = Reason("leaks_far_from_odds", lost=lost, digs=len(digs))
        faults.append(Fault("dig_outcomes", reason, effect="noted"))
    return faults

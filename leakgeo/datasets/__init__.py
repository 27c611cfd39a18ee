"""Sample jobs that come with the package: simulated lines of invented places."""

from __future__ import annotations

from pathlib import Path

__all__ = ["in_feet", "town", "two_walks"]


def town() -> Path:
    """Give the job of an invented town: 29 lines with every layer that a job may have.

    Two mains and 16 services have readings, fittings, meter tests, surfaces and utilities. The
    services of Alewife Court, ``A-201`` to ``A-211``, show one kind of evidence each. Two readings
    are faulty on purpose. All data are simulated.

    Returns
    -------
    pathlib.Path
        GeoPackage in ``EPSG:2289`` (US survey feet), for every function and command that takes a
        job. It is part of the installation: copy it before a program writes into it.

    See Also
    --------
    leakgeo.simulate.town.simulate_town : Such a town of another seed, with the truth.

    Examples
    --------
    >>> import leakgeo
    >>> from leakgeo import datasets
    >>> job = leakgeo.read_job(datasets.town(), lines=["H-101"])
    >>> job.counts["routes"], job.output_crs.to_epsg()
    (29, 2289)
    """
    return _job("town")


def two_walks() -> Path:
    """Give the job of one line that was walked twice, with another gain that nobody wrote down.

    The first walk has coarse steps, the second fine ones about its loudest stop. Levels of the two
    differ by an unknown number of decibels, which leakgeo estimates where the walks overlap. All
    data are simulated: the leak is at a chainage of 8.10 m.

    Returns
    -------
    pathlib.Path
        GeoPackage in ``EPSG:32616`` (metres) with ``routes`` and ``readings``. It is part of the
        installation: copy it before a program writes into it.

    Examples
    --------
    >>> import leakgeo
    >>> from leakgeo import datasets
    >>> result = leakgeo.locate(datasets.two_walks())
    >>> result["marks"]["chainage_m"].round(1).tolist()
    [8.4]
    """
    return _job("two_walks")


def in_feet() -> Path:
    """Give the job of one line taped in feet, with a gas pipe beside it that nobody has marked.

    The gas pipe was drawn from records, 0.9 m to the left of the line. All data are simulated: the
    leak is at a chainage of 6.11 m.

    Returns
    -------
    pathlib.Path
        GeoPackage in ``EPSG:2289`` (US survey feet) with ``routes``, ``readings``, whose distances
        are in the column ``tape``, and ``utilities``. It is part of the installation: copy it
        before a program writes into it.

    Examples
    --------
    >>> import leakgeo
    >>> from leakgeo import datasets
    >>> result = leakgeo.clearance(leakgeo.locate(datasets.in_feet()))
    >>> result["dig_zones"]["dig_status"].tolist()
    ['hold']
    """
    return _job("in_feet")


def _job(name: str) -> Path:
    """Return the path of a job: in the installed package, or in the examples of a checkout."""
    package = Path(__file__).resolve().parent
    inside = package / f"{name}.gpkg"
    return inside if inside.is_file() else package.parents[1] / "examples" / name / "job.gpkg"

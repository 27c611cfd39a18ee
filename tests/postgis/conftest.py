"""A database of its own for the tests, on the server that LEAKGEO_TEST_POSTGIS names."""

from __future__ import annotations

import os
import uuid
from urllib.parse import urlsplit

import pytest


def server() -> str:
    """Give the URL of the server; without one, skip here and fail on a build machine."""
    url = os.environ.get("LEAKGEO_TEST_POSTGIS")
    if url:
        return url
    if os.environ.get("CI"):
        pytest.fail("LEAKGEO_TEST_POSTGIS is not set; .ci/postgis starts a server")
    return pytest.skip("no PostGIS: set LEAKGEO_TEST_POSTGIS, or use .ci/postgis")


@pytest.fixture(scope="session")
def url():
    """Give a fresh database with PostGIS, dropped afterwards."""
    import psycopg

    place, name = server(), f"test_{uuid.uuid4().hex[:12]}"
    with psycopg.connect(place, autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE {name}")
    own = urlsplit(place)._replace(path=f"/{name}").geturl()
    with psycopg.connect(own) as connection:
        connection.execute("CREATE EXTENSION postgis")
    yield own
    with psycopg.connect(place, autocommit=True) as connection:
        connection.execute(f"DROP DATABASE {name} WITH (FORCE)")


@pytest.fixture
def base(url):
    """Give an open connection in which each statement stands for itself, and an empty database."""
    import psycopg

    with psycopg.connect(url, autocommit=True) as connection:
        yield connection
        found = connection.execute(
            "SELECT nspname FROM pg_namespace WHERE nspname !~ '^pg_' "
            "AND nspname NOT IN ('public', 'information_schema')"
        ).fetchall()
        for (schema,) in found:
            connection.execute(f'DROP SCHEMA "{schema}" CASCADE')

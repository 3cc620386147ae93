"""An empty archive for each test: the embedded database, and PostgreSQL if there."""

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import create_engine, text
from sqlalchemy.engine import make_url

from tests.shelving import new_archive
from vision.archive.opening import Archive

POSTGRES_URL = os.environ.get("FREESTAND_TEST_POSTGRES_URL", "")
SCHEMA = "freestand_test"


@pytest.fixture(params=["embedded", "server"])
def archive(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Archive]:
    """Make an archive; the one on a server in a schema of its own."""
    if request.param == "embedded":
        yield new_archive(tmp_path / "archive")
        return
    if not POSTGRES_URL:
        pytest.skip("FREESTAND_TEST_POSTGRES_URL names no PostgreSQL server")
    yield from _on_server(tmp_path)


def _on_server(folder: Path) -> Iterator[Archive]:
    url = make_url(POSTGRES_URL).set(drivername="postgresql+psycopg")
    engine = create_engine(url)
    drop = text(f"DROP SCHEMA IF EXISTS {SCHEMA} CASCADE")
    with engine.begin() as connection:
        connection.execute(drop)
        connection.execute(text(f"CREATE SCHEMA {SCHEMA}"))
    own = url.update_query_dict({"options": f"-csearch_path={SCHEMA}"})
    yield new_archive(folder / "archive", own.render_as_string())
    with engine.begin() as connection:
        connection.execute(drop)
    engine.dispose()

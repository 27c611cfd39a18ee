"""Ways to spoil a GeoPackage: each takes its bytes and a source of randomness, and gives bytes."""

from __future__ import annotations

import random
import sqlite3
import struct
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

    Mutation = Callable[[bytearray, random.Random], bytes]

PAGE = 4096
LAYERS = ("routes", "readings", "contacts", "utility_lines")


def bits(data: bytearray, rng: random.Random) -> bytes:
    for _ in range(rng.choice((1, 4, 64, 1000))):
        data[rng.randrange(len(data))] ^= 1 << rng.randrange(8)
    return bytes(data)


def page_noise(data: bytearray, rng: random.Random) -> bytes:
    at = PAGE * rng.randrange(len(data) // PAGE) + rng.randrange(PAGE)
    long = min(rng.choice((1, 8, 100, PAGE)), len(data) - at)
    data[at : at + long] = rng.randbytes(long)
    return bytes(data)


def page_head(data: bytearray, rng: random.Random) -> bytes:
    """The head of a page says how many rows it has, and where they are."""
    at = PAGE * rng.randrange(1, len(data) // PAGE)
    data[at + rng.randrange(12)] = rng.randrange(256)
    return bytes(data)


def page_gone(data: bytearray, rng: random.Random) -> bytes:
    at = PAGE * rng.randrange(len(data) // PAGE)
    data[at : at + PAGE] = bytes(PAGE)
    return bytes(data)


def pages_swapped(data: bytearray, rng: random.Random) -> bytes:
    a, b = (PAGE * rng.randrange(len(data) // PAGE) for _ in range(2))
    data[a : a + PAGE], data[b : b + PAGE] = data[b : b + PAGE], data[a : a + PAGE]
    return bytes(data)


def header(data: bytearray, rng: random.Random) -> bytes:
    for _ in range(rng.choice((1, 4, 50))):
        data[rng.randrange(100)] = rng.randrange(256)
    return bytes(data)


def cut(data: bytearray, rng: random.Random) -> bytes:
    return bytes(data[: rng.choice((rng.randrange(len(data)), len(data) - rng.randrange(PAGE)))])


def longer(data: bytearray, rng: random.Random) -> bytes:
    return bytes(data) + rng.randbytes(rng.choice((1, 100, PAGE, 3 * PAGE)))


def in_sql(change: Callable[[sqlite3.Connection, random.Random], None]) -> Mutation:
    """Make a mutation of a change that SQL makes."""

    def mutation(data: bytearray, rng: random.Random) -> bytes:
        base = sqlite3.connect(":memory:")
        base.deserialize(bytes(data))
        base.execute("PRAGMA writable_schema = ON")
        for (name,) in base.execute("select name from sqlite_master where type = 'trigger'"
                                    ).fetchall():  # fmt: skip
            base.execute(f'drop trigger "{name}"')
        try:
            change(base, rng)
        except sqlite3.Error:
            base.rollback()
        base.commit()
        made = base.serialize()
        base.close()
        return made

    return mutation


def _tables(base: sqlite3.Connection) -> list[str]:
    rows = base.execute("select name from sqlite_master where type = 'table'").fetchall()
    return sorted(r[0] for r in rows if not r[0].startswith("sqlite_"))


def _columns(base: sqlite3.Connection, table: str) -> list[str]:
    return [r[1] for r in base.execute(f'pragma table_info("{table}")')]


def drop_table(base: sqlite3.Connection, rng: random.Random) -> None:
    base.execute(f'drop table "{rng.choice(_tables(base))}"')


def drop_column(base: sqlite3.Connection, rng: random.Random) -> None:
    table = rng.choice(LAYERS)
    base.execute(f'alter table "{table}" drop column "{rng.choice(_columns(base, table))}"')


def rename(base: sqlite3.Connection, rng: random.Random) -> None:
    table = rng.choice(LAYERS)
    name = rng.choice(_columns(base, table))
    other = rng.choice(('a"b', "x'y", "линия", "select", "geom2", "FID"))
    quoted = other.replace('"', '""')
    base.execute(f'alter table "{table}" rename column "{name}" to "{quoted}"')


VALUES = (
    None, "", "x", "NaN", "Infinity", "1e999", -1, 2**63 - 1, 1e308, -1e-308, b"\x00\xff",
    "y" * 1_000_000, "\x00", "2020-13-45", "🜃" * 50, "<script>alert(1)</script>", "=1+1",
)  # fmt: skip


def values(base: sqlite3.Connection, rng: random.Random) -> None:
    table = rng.choice(LAYERS)
    name = rng.choice([c for c in _columns(base, table) if c not in ("fid", "geom")])
    share = rng.choice((2, 5, 1000))
    value = rng.choice(VALUES)
    base.execute(f'update "{table}" set "{name}" = ? where fid % ? = 1', (value, share))


def _spoilt(blob: bytes, rng: random.Random) -> bytes | None:
    data = bytearray(blob)
    kind = rng.randrange(8)
    if kind == 0:
        data[rng.randrange(len(data))] = rng.randrange(256)
    elif kind == 1:
        del data[rng.randrange(len(data)) :]
    elif kind == 2:
        data += rng.randbytes(rng.randrange(50))
    elif kind == 3:  # a line that claims two thousand million points
        data[-16:] = struct.pack("<BII", 1, 2, 2**31 - 1)
    elif kind == 4:  # collections inside collections
        data[8:] = struct.pack("<BII", 1, 7, 1) * rng.choice((10, 5000))
    elif kind == 5:
        data[-8:] = struct.pack("<d", rng.choice((float("nan"), float("inf"), 1e300, -1e-300)))
    elif kind == 6:
        return None
    else:
        data[3] = rng.randrange(256)
    return bytes(data)


def shapes(base: sqlite3.Connection, rng: random.Random) -> None:
    table = rng.choice(LAYERS)
    rows = base.execute(f'select fid, geom from "{table}" where geom is not null').fetchall()
    for fid, blob in rng.sample(rows, min(len(rows), rng.choice((1, 3, 1000)))):
        base.execute(f'update "{table}" set geom = ? where fid = ?', (_spoilt(blob, rng), fid))


def shapes_swapped(base: sqlite3.Connection, rng: random.Random) -> None:
    a, b = rng.choice(LAYERS), rng.choice(LAYERS)
    blobs = [r[0] for r in base.execute(f'select geom from "{b}"')]
    for (fid,) in base.execute(f'select fid from "{a}"').fetchall():
        if rng.random() < 0.3:
            base.execute(f'update "{a}" set geom = ? where fid = ?', (rng.choice(blobs), fid))


def srs(base: sqlite3.Connection, rng: random.Random) -> None:
    wild = rng.choice((4326, -1, 0, 99999, 3857, 2263, None, "x", 2**40))
    which = rng.randrange(3)
    if which == 0:
        base.execute("update gpkg_geometry_columns set srs_id = ?", (wild,))
    elif which == 1:
        text = rng.choice(("", "undefined", "GEOGCS[", "x" * 100_000, "PROJCS[" * 3000))
        base.execute("update gpkg_spatial_ref_sys set definition = ?", (text,))
    else:
        base.execute("delete from gpkg_spatial_ref_sys where srs_id > 0")


def contents(base: sqlite3.Connection, rng: random.Random) -> None:
    table = rng.choice(("gpkg_contents", "gpkg_geometry_columns", "gpkg_ogr_contents"))
    name = rng.choice(_columns(base, table))
    value = rng.choice((*VALUES, "features", "tiles", "routes", "2d-gridded-coverage"))
    base.execute(f'update or ignore "{table}" set "{name}" = ?', (value,))


def schema_text(base: sqlite3.Connection, rng: random.Random) -> None:
    name, sql = rng.choice(base.execute(
        "select name, sql from sqlite_master where sql is not null").fetchall())  # fmt: skip
    at = rng.randrange(len(sql))
    piece = rng.choice(("", "(", ")", '"', "'", ",", "\x00", " INTEGER ", "é", sql[at:]))
    spoilt = sql[:at] + piece + sql[at + rng.randrange(4) :]
    base.execute("update sqlite_master set sql = ? where name = ?", (spoilt, name))


ENDLESS = "with recursive c(x) as (select 1 union all select x + 1 from c) "


def view(base: sqlite3.Connection, rng: random.Random) -> None:
    """A layer that is worked out by SQL, without end or too large to hold."""
    table = rng.choice(LAYERS)
    base.execute(f'alter table "{table}" rename to kept_{table}')
    body = rng.choice((
        f"{ENDLESS} select k.* from kept_{table} k, c",
        f"{ENDLESS} select k.* from kept_{table} k where (select count(*) from c) > 0",
        f"select k.*, zeroblob(900000000) as note from kept_{table} k",
        f"select * from kept_{table}",
        f'select * from "{table}"',
    ))  # fmt: skip
    base.execute(f'create view "{table}" as {body}')


def computed(base: sqlite3.Connection, rng: random.Random) -> None:
    """A column that is worked out on reading."""
    table = rng.choice(LAYERS)
    formula = rng.choice(("hex(zeroblob(400000000))", "fid + 1", "printf('%.400000000c', 'x')"))
    base.execute(f'alter table "{table}" add column note as ({formula})')


def virtual(base: sqlite3.Connection, rng: random.Random) -> None:
    module = rng.choice(("VirtualOGR('/vsicurl/http://127.0.0.1:9/a')", "VirtualShape('/etc/x')",
                         "rtree(id, a, b)", "fts5(a)"))  # fmt: skip
    base.execute(
        "insert into sqlite_master(type, name, tbl_name, rootpage, sql) "
        "values ('table', 'v', 'v', 0, ?)",
        (f"create virtual table v using {module}",),
    )
    if rng.random() < 0.5:
        base.execute("insert into gpkg_contents(table_name, data_type, identifier) "
                     "values ('v', 'attributes', 'v')")  # fmt: skip


MUTATIONS: dict[str, Mutation] = {
    **{f.__name__: f for f in (bits, page_noise, page_head, page_gone, pages_swapped, header, cut,
                               longer)},
    **{f.__name__: in_sql(f) for f in (
        drop_table, drop_column, rename, values, shapes, shapes_swapped, srs, contents,
        schema_text, view, computed, virtual)},
}  # fmt: skip


def spoilt(data: bytes, seed: int, number: int) -> tuple[str, bytes]:
    """Give the name of a mutation and what it makes of `data`: the same for the same numbers."""
    rng = random.Random(f"{seed}/{number}")
    name = rng.choice(list(MUTATIONS))
    return name, MUTATIONS[name](bytearray(data), rng)

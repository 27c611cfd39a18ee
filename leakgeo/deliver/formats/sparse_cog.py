"""Write a sparse single-band raster as a cloud-optimised GeoTIFF.

GDAL's COG driver visits every block of the extent, empty ones too: hours for a county. This writer
stores, averages and writes non-empty blocks only. Tags of georeference and metadata are copied from
a file of one pixel that GDAL writes. Layout: TIFF 6.0 or BigTIFF; directories first, then the
overviews, coarsest first (OGC 21-026).
"""

from __future__ import annotations

import struct
import zlib
from dataclasses import dataclass, field
from functools import partial
from hashlib import blake2b
from typing import IO, TYPE_CHECKING, Any

import numpy as np
from rasterio.io import MemoryFile

from leakgeo.kept_pieces import Shelf

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping
    from pathlib import Path

    from rasterio.transform import Affine

    from leakgeo.kept_pieces import Kept

BLOCK = 512
_SHORT, _LONG, _LONG8 = 3, 4, 16
_SIZES = {1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 11: 4, 12: 8, 16: 8}
# Description, georeference, metadata and nodata: tags copied from the file of one pixel.
_COPIED_TAGS = (270, 33550, 33922, 34264, 34735, 34736, 34737, 42112, 42113)
_OVERVIEW_TAGS = (42113,)
# Lets a reader fetch a block in one request; see the documentation of GDAL's COG driver.
_GHOST = (b"LAYOUT=IFDS_BEFORE_DATA\nBLOCK_ORDER=ROW_MAJOR\nBLOCK_LEADER=SIZE_AS_UINT4\n"
          b"BLOCK_TRAILER=LAST_4_BYTES_REPEATED\nKNOWN_INCOMPATIBLE_EDITION=NO\n ")  # fmt: skip
_LEADER, _TRAILER = 4, 4
# Of compression. Blocks are mostly zeros: a higher level takes twice the time to save a third.
_LEVEL = 2
# Maximum size with offsets of four bytes.
_MAX_CLASSIC_BYTES = 2**32 - 2**20

Place = tuple[int, int]  # row and column of a block, from the upper left
Tag = tuple[int, int, bytes]  # type, count, value


@dataclass(frozen=True)
class RasterMetadata:
    """Georeference and metadata of the raster.

    Parameters
    ----------
    crs : str
        WKT.
    transform : affine.Affine
        From pixels to the CRS, at the upper left corner.
    tags : mapping of str to str
        Metadata of the dataset.
    band, unit : str
        Description and unit of the band.
    """

    crs: str
    transform: Affine
    tags: Mapping[str, str]
    band: str
    unit: str


@dataclass(frozen=True)
class Block:
    """A non-empty block.

    Parameters
    ----------
    digest : str
        Of its content.
    pixels : callable
        Returns them, shape ``(BLOCK, BLOCK)``; 0 is nodata.
    """

    digest: str
    pixels: Callable[[], np.ndarray]


@dataclass
class _Level:
    """One resolution: its size in pixels, and the digest, offset and length of its blocks."""

    height: int
    width: int
    blocks: dict[Place, tuple[int, int]] = field(default_factory=dict)
    digests: dict[Place, str] = field(default_factory=dict)

    @property
    def rows(self) -> int:
        """Number of rows of blocks; the last may be partial."""
        return -(-self.height // BLOCK)

    @property
    def columns(self) -> int:
        """Number of columns of blocks."""
        return -(-self.width // BLOCK)


def write_sparse_cog(
    path: Path, metadata: RasterMetadata, shape: Place, blocks: Iterable[tuple[Place, Block]],
    draft: IO[bytes], kept: Kept | None = None,
) -> None:  # fmt: skip
    """Write blocks of a raster and their overviews as a cloud-optimised GeoTIFF.

    Parameters
    ----------
    path : pathlib.Path
    metadata : RasterMetadata
    shape : (int, int)
        Numbers of rows and columns of blocks, each of `BLOCK` pixels.
    blocks : iterable of ((row, column), Block)
        Non-empty blocks, each once.
    draft : binary file
        Empty temporary file for compressed blocks, open for reading and writing.
    kept : Kept or None
        Compressed blocks of earlier runs; none by default.
    """
    store = _Store(draft, Shelf(kept, "raster block", [BLOCK, _LEVEL, zlib.ZLIB_RUNTIME_VERSION]))
    levels = [_Level(shape[0] * BLOCK, shape[1] * BLOCK)]
    for place, block in blocks:
        store.add(levels[0], place, block)
    while max(levels[-1].rows, levels[-1].columns) > 1:
        levels.append(_coarser(levels[-1], store))
    tags = _tags_of_one_pixel(metadata)
    around = _LEADER + _TRAILER
    stored = sum(size + around for level in levels for _, size in level.blocks.values())
    index = sum(12 * level.rows * level.columns for level in levels)
    big = stored + index > _MAX_CLASSIC_BYTES
    start = len(_directories(levels, tags, {}, big=big))
    order = [(k, place) for k in reversed(range(len(levels))) for place in sorted(levels[k].blocks)]
    offsets, at = {}, start
    for k, place in order:
        offsets[k, place] = at + _LEADER
        at += _LEADER + levels[k].blocks[place][1] + _TRAILER
    with path.open("wb") as out:
        out.write(_directories(levels, tags, offsets, big=big))
        for k, place in order:
            packed = store.load(levels[k].blocks[place])
            out.write(struct.pack("<I", len(packed)) + packed + packed[-_TRAILER:])


@dataclass(frozen=True)
class _Store:
    """Compressed blocks in the draft; those of an earlier run aren't made again."""

    draft: IO[bytes]
    shelf: Shelf

    def add(self, level: _Level, place: Place, block: Block) -> None:
        """Store a block of a level."""
        packed = self.shelf.find(block.digest)
        if packed is None:
            packed = zlib.compress(np.ascontiguousarray(block.pixels(), "<f4").tobytes(), _LEVEL)
            self.shelf.store(block.digest, packed)
        level.blocks[place] = self.draft.seek(0, 2), len(packed)
        level.digests[place] = block.digest
        self.draft.write(packed)

    def load(self, where: tuple[int, int]) -> bytes:
        """Return a compressed block."""
        self.draft.seek(where[0])
        return self.draft.read(where[1])


def _coarser(level: _Level, store: _Store) -> _Level:
    """Return the level of half the resolution, the mean of non-zero pixels."""
    out = _Level(-(-level.height // 2), -(-level.width // 2))
    for row, column in sorted({(r // 2, c // 2) for r, c in level.blocks}):
        four = [(2 * row + i, 2 * column + j) for i in (0, 1) for j in (0, 1)]
        content = " ".join(level.digests.get(place, "-") for place in four)
        digest = blake2b(content.encode(), digest_size=16).hexdigest()
        pixels = partial(_means, [level.blocks.get(place) for place in four], store)
        store.add(out, (row, column), Block(digest, pixels))
    return out


def _means(four: list[tuple[int, int] | None], store: _Store) -> np.ndarray:
    """Return the block of half the resolution of four, row by row."""
    block = np.zeros((BLOCK, BLOCK), np.float32)
    half = BLOCK // 2
    for k, where in enumerate(four):
        if where is not None:
            fine = np.frombuffer(zlib.decompress(store.load(where)), "<f4")
            _average(fine.reshape(BLOCK, BLOCK), block[k // 2 * half :, k % 2 * half :])
    return block


def _average(fine: np.ndarray, into: np.ndarray) -> None:
    """Write the means of 2 by 2 pixels, zeros excluded, of the non-empty part of a block."""
    rows, columns = (np.flatnonzero(fine.any(axis=axis)) // 2 for axis in (1, 0))
    if not rows.size:
        return
    (top, low), (left, right) = ((v[0], v[-1] + 1) for v in (rows, columns))
    part = fine[2 * top : 2 * low, 2 * left : 2 * right]
    four = np.stack([part[i::2, j::2] for i in (0, 1) for j in (0, 1)])
    held = np.maximum((four > 0).sum(axis=0), 1)
    into[top:low, left:right] = four.sum(axis=0) / held


def _tags_of_one_pixel(metadata: RasterMetadata) -> dict[int, Tag]:
    """Return the tags of georeference and metadata that GDAL writes for a file of one pixel."""
    with MemoryFile() as memory:
        with memory.open(driver="GTiff", width=1, height=1, count=1, dtype="float32", nodata=0.0,
                         crs=metadata.crs, transform=metadata.transform) as one:  # fmt: skip
            one.update_tags(**metadata.tags)
            one.set_band_description(1, metadata.band)
            one.set_band_unit(1, metadata.unit)
        data = bytes(memory.read())
    return {tag: value for tag, value in _read_tags(data) if tag in _COPIED_TAGS}


def _read_tags(data: bytes) -> Iterator[tuple[int, Tag]]:
    """Yield the tags of the first directory of a little-endian classic TIFF."""
    if data[:4] != b"II*\0":
        raise OSError("GDAL wrote a TIFF of another kind than little-endian")
    (at,) = struct.unpack_from("<I", data, 4)
    (count,) = struct.unpack_from("<H", data, at)
    for k in range(count):
        entry = at + 2 + 12 * k
        tag, kind, number = struct.unpack_from("<HHI", data, entry)
        length = _SIZES.get(kind, 1) * number
        begin = entry + 8 if length <= 4 else struct.unpack_from("<I", data, entry + 8)[0]
        yield tag, (kind, number, data[begin : begin + length])


def _directories(
    levels: list[_Level], kept: dict[int, Tag], offsets: Mapping[tuple[int, Place], int], *,
    big: bool,
) -> bytes:  # fmt: skip
    """Return the file header and a directory per level, finest first."""
    ghost = f"GDAL_STRUCTURAL_METADATA_SIZE={len(_GHOST):06} bytes\n".encode() + _GHOST
    head = b"II+\0\x08\0\0\0" if big else b"II*\0"
    first = len(head) + (8 if big else 4) + len(ghost)
    first += first % 2
    out = (head + struct.pack("<Q" if big else "<I", first) + ghost).ljust(first, b"\0")
    for k, level in enumerate(levels):
        tags = {t: v for t, v in kept.items() if k == 0 or t in _OVERVIEW_TAGS}
        tags |= _layout(level, {p: offsets.get((k, p), 0) for p in level.blocks}, k, big=big)
        out += _directory(tags, len(out), last=k == len(levels) - 1, big=big)
    return out


def _layout(
    level: _Level, offsets: Mapping[Place, int], number: int, *, big: bool
) -> dict[int, Tag]:
    """Return the tags of size, encoding and blocks of a level; an empty block has 0, 0."""
    at = np.zeros(level.rows * level.columns, "<u8" if big else "<u4")
    size = np.zeros(at.size, "<u4")
    for (row, column), offset in offsets.items():
        place = row * level.columns + column
        at[place], size[place] = offset, level.blocks[row, column][1]
    short = {258: 32, 259: 8, 262: 1, 277: 1, 284: 1, 317: 1, 322: BLOCK, 323: BLOCK, 339: 3}
    long = {254: int(number > 0), 256: level.width, 257: level.height}
    return {
        **{tag: (_SHORT, 1, struct.pack("<H", value)) for tag, value in short.items()},
        **{tag: (_LONG, 1, struct.pack("<I", value)) for tag, value in long.items()},
        324: (_LONG8 if big else _LONG, at.size, at.tobytes()),
        325: (_LONG, size.size, size.tobytes()),
    }


def _directory(tags: Mapping[int, Tag], begin: int, *, last: bool, big: bool) -> bytes:
    """Return the bytes of one directory at `begin`, with the values that don't fit into it."""
    word, number, inline = ("Q", "Q", 8) if big else ("I", "H", 4)
    size = struct.calcsize(f"<{number}") + len(tags) * (4 + 2 * inline) + inline
    entries, more = struct.pack(f"<{number}", len(tags)), b""
    for tag, (kind, count, value) in sorted(tags.items()):
        held: Any = value.ljust(inline, b"\0")
        if len(value) > inline:
            held = struct.pack(f"<{word}", begin + size + len(more))
            more += value + b"\0" * (-len(value) % 8)
        entries += struct.pack(f"<HH{word}", tag, kind, count) + held
    after = begin + size + len(more)
    pad = -after % 8
    following = struct.pack(f"<{word}", 0 if last else after + pad)
    return entries + following + more + b"\0" * pad

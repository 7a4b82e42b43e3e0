"""A file of standards from outside: how large it may be, and what is packed inside."""

import gzip
import io
import zipfile
import zlib
from pathlib import Path

from app.interchange.files import BadFile, Mistake

LARGEST_BYTES = 64 * 1024 * 1024
LARGEST_WORDS = "64 MB"
SUFFIXES = (".json", ".csv", ".tsv", ".txt")
_AT_A_TIME = 256 * 1024
# The directory of an archive of one file is a few hundred bytes; a thousand files need more.
_LARGEST_DIRECTORY = 64 * 1024


def read_path(path: Path) -> tuple[bytes, str]:
    """Content and name of a file on this computer, unpacked.

    Raises BadFile, for a file that is too large before it is read.
    """
    try:
        if path.stat().st_size > LARGEST_BYTES:
            raise _too_large(path.name)
        return unpack(path.read_bytes(), path.name)
    except OSError as error:
        sentence = f"cannot be read ({error.strerror}); name a file that exists and is yours"
        raise BadFile([Mistake(str(path), "", sentence)]) from error


def unpack(raw: bytes, name: str) -> tuple[bytes, str]:
    """The file itself, or the one file in a ZIP or gzip archive, and its name.

    Never unpacks more than `LARGEST_BYTES`. Raises BadFile.
    """
    if len(raw) > LARGEST_BYTES:
        raise _too_large(name)
    if raw[:4] == b"PK\x03\x04":
        return _unzip(raw, name)
    if raw[:2] == b"\x1f\x8b":
        return _gunzip(raw, name), name.removesuffix(".gz")
    return raw, name


def pack(raw: bytes) -> bytes:
    """The content as it is kept until its person decides: `unpack` takes it in."""
    packed = raw[:4] == b"PK\x03\x04" or raw[:2] == b"\x1f\x8b"
    return raw if packed else gzip.compress(raw, compresslevel=1, mtime=0)


def _gunzip(raw: bytes, name: str) -> bytes:
    try:
        # Once through without keeping anything: a bomb never comes into memory.
        with gzip.GzipFile(fileobj=io.BytesIO(raw)) as file:
            size = 0
            while part := file.read(_AT_A_TIME):
                size += len(part)
                if size > LARGEST_BYTES:
                    raise _too_large(name)
        return gzip.decompress(raw)
    except (OSError, EOFError, zlib.error) as error:
        raise _broken(name) from error


def _unzip(raw: bytes, name: str) -> tuple[bytes, str]:
    end = raw.rfind(b"PK\x05\x06")
    if int.from_bytes(raw[end + 12 : end + 16], "little") > _LARGEST_DIRECTORY and end >= 0:
        sentence = "holds very many files; an archive holds one JSON or CSV file"
        raise BadFile([Mistake(name, "", sentence)])
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as archive:
            inside = [item for item in archive.infolist() if not item.is_dir()]
            if len(inside) != 1 or not inside[0].filename.lower().endswith(SUFFIXES):
                sentence = (
                    f"holds {len(inside)} file{'s' * (len(inside) != 1)}; an archive holds one "
                    "JSON or CSV file (save a spreadsheet as CSV first)"
                )
                raise BadFile([Mistake(name, "", sentence)])
            if inside[0].file_size > LARGEST_BYTES:
                raise _too_large(name)
            if inside[0].compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
                raise _broken(name)
            # Part by part, so that no more than the stated size is ever unpacked; where that is a
            # lie, the archive is broken.
            with archive.open(inside[0]) as file:
                content = b"".join(iter(lambda: file.read(_AT_A_TIME), b""))
    except (zipfile.BadZipFile, zlib.error, RuntimeError, NotImplementedError, EOFError) as error:
        raise _broken(name) from error
    return content, inside[0].filename.rsplit("/", 1)[-1]


def _too_large(name: str) -> BadFile:
    sentence = (
        f"is larger than {LARGEST_WORDS} unpacked; export one framework at a time, without what "
        "your course does not need"
    )
    return BadFile([Mistake(name, "", sentence)])


def _broken(name: str) -> BadFile:
    sentence = "is an archive that cannot be unpacked; pack it again without a password"
    return BadFile([Mistake(name, "", sentence)])

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
        try:
            with gzip.GzipFile(fileobj=io.BytesIO(raw)) as file:
                content = file.read(LARGEST_BYTES + 1)
        except (OSError, EOFError, zlib.error) as error:
            raise _broken(name) from error
        if len(content) > LARGEST_BYTES:
            raise _too_large(name)
        return content, name.removesuffix(".gz")
    return raw, name


def _unzip(raw: bytes, name: str) -> tuple[bytes, str]:
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
            # The size an archive states may be a lie: read to the limit and no further.
            with archive.open(inside[0]) as file:
                content = file.read(LARGEST_BYTES + 1)
    except (zipfile.BadZipFile, zlib.error, RuntimeError, NotImplementedError, EOFError) as error:
        raise _broken(name) from error
    if len(content) > LARGEST_BYTES:
        raise _too_large(name)
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

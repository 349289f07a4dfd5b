"""What is left of somebody on disk."""

from pathlib import Path


def bytes_on_disk(folder: Path) -> bytes:
    """Every byte of every file below a folder: databases, their journals, logs."""
    return b"".join(file.read_bytes() for file in folder.rglob("*") if file.is_file())

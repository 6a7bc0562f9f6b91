"""Puts the program, its style and its scripts into one HTML file."""

import base64
import gzip
import pathlib
import sys

MOST_BYTES = 3_000_000  # larger is not handed round by mail or a slow stick gladly


def number(data: bytes, at: int) -> tuple[int, int]:
    """A number as WebAssembly writes it, and where it ends."""
    value = shift = 0
    while True:
        value |= (data[at] & 0x7F) << shift
        at, shift = at + 1, shift + 7
        if data[at - 1] < 0x80:
            return value, at


def bare(wasm: bytes) -> bytes:
    """The program without its custom sections, which are for tools and never run."""
    kept, at = wasm[:8], 8
    while at < len(wasm):
        size, body = number(wasm, at + 1)
        if wasm[at] != 0:
            kept += wasm[at : body + size]
        at = body + size
    return kept


def main(wasm: str, to: str) -> None:
    here = pathlib.Path(__file__).parent
    program = gzip.compress(bare(pathlib.Path(wasm).read_bytes()), 9, mtime=0)
    page = (here / "page.html").read_text()
    parts = {
        "/*STYLE*/": (here / "page.css").read_text(),
        "/*WORKER*/": (here / "worker.js").read_text(),
        "/*SCRIPT*/": (here / "page.js").read_text(),
        "/*PROGRAM*/": base64.b85encode(program).decode(),
    }
    for mark, text in parts.items():
        if page.count(mark) != 1 or any(end in text for end in ("</script", "</style", "<script")):
            sys.exit(f"page.html: {mark} must stand once, and what goes there must not end its element")
        page = page.replace(mark, text)
    pathlib.Path(to).write_text(page)
    size = len(page.encode())
    print(f"{to}: {size} bytes")
    if size > MOST_BYTES:
        sys.exit(f"{to}: more than {MOST_BYTES} bytes")


main(*sys.argv[1:])

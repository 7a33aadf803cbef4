"""Scripts that cannot be used, each in another way."""

from __future__ import annotations

import os
import sys
from pathlib import Path

from coach.script import catalog


def lay(home: Path) -> Path:
    """Lay some among a student's own maneuvers: the folder, in which no other is."""
    folder = home / "scripts" / "maneuvers"
    folder.mkdir(parents=True)
    right = catalog.find("maneuvers", "lazy-eight").read_text(encoding="utf-8")
    texts = {
        "a-date": right + "extra: 2026-02-30\n",
        "a-tag": right + "extra: !!int zz\n",
        "a-long-number": right + f"extra: {'9' * 5000}\n",
        "a-time": right + "extra: 1:59:59.9.9\n",
        "a-red-word": right.replace("title: Lazy eight", 'title: "\\x1b[31mLazy eight"'),
        "a-\x1b[31mred-name": "maneuver: red\n",
        "a-wish": right.replace("is: entry, within: 20 ft", "is: entry, within: 0 ft"),
    }
    for name, text in texts.items():
        (folder / f"{name}.yaml").write_text(text, encoding="utf-8")
    if sys.platform == "linux":  # elsewhere the system itself refuses such a name
        (folder / os.fsdecode(b"a-\xffbyte.yaml")).write_text(right, encoding="utf-8")
    (folder / "a-folder.yaml").mkdir()
    (folder / "a-link.yaml").symlink_to("nowhere")
    (folder / "a-photo.yaml").write_bytes(b"\xff\xfe\x00\x80")
    if hasattr(os, "mkfifo"):
        os.mkfifo(folder / "a-pipe.yaml")
        (folder / "a-device.yaml").symlink_to("/dev/zero")
    return folder

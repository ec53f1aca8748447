"""The workshop's modules, type-checked from their JSDoc by TypeScript (npm, for tests only)."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
from pathlib import Path

import pytest

from motifsearch.page import workshop_page

#: Strict but for two rules: JSDoc need not name the type of every inner function's parameter, and
#: what is caught is taken for an error.
OPTIONS = {
    "allowJs": True, "checkJs": True, "noEmit": True, "strict": True, "noImplicitAny": False,
    "useUnknownInCatchVariables": False, "target": "es2022", "module": "es2022",
    "moduleResolution": "bundler", "lib": ["es2022", "dom", "dom.iterable"], "types": [],
    "paths": {"/files/*": ["./files/*"]},
}  # fmt: skip


def compiled(folder: Path, files: dict[str, bytes]) -> str:
    """What TypeScript says of modules that are served below ``/files/``."""
    compiler = shutil.which("tsc")
    if compiler is None:
        if os.environ.get("CI") == "true":
            pytest.fail("TypeScript is not installed")
        pytest.skip("TypeScript is not installed")
    (folder / "files").mkdir()
    for name, data in files.items():
        (folder / "files" / name).write_bytes(data)
    settings = {"compilerOptions": OPTIONS, "include": ["files/*.js"]}
    (folder / "tsconfig.json").write_text(json.dumps(settings), encoding="utf-8")
    done = subprocess.run(
        [compiler, "-p", str(folder)], capture_output=True, text=True, check=False, timeout=300
    )
    return done.stdout + done.stderr


def served() -> dict[str, bytes]:
    folder = Path(workshop_page.__file__).parent / "workshop"
    names = [*(p.name for p in folder.glob("*.js")), "cloth.js"]
    found = {name: workshop_page.file(name) for name in names}
    return {name: one[0] for name, one in found.items() if one is not None}


def test_every_module_keeps_its_types(tmp_path: Path) -> None:
    files = served()
    assert len(files) > 10
    assert compiled(tmp_path, files) == ""


def test_a_wrong_type_is_found(tmp_path: Path) -> None:
    """The check can fail: a number where the page's own JSDoc says a text."""
    wrong = b'import { say } from "/files/dom.js";\nsay(3);\n'
    said = compiled(tmp_path, {**served(), "wrong.js": wrong})
    assert "wrong.js(2,5)" in said
    assert "'number' is not assignable" in said

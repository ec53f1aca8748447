"""Chaos: several processes, kills, full disks and a maker's own hands on one folder of work.

For so many seconds, actors run random commands on the same stash and the same few run folders;
some are killed (kill -9) or interrupted at a random moment, now and then the disk is full, and a
maker edits files by hand in between.  Then everything is let go on and end, and it must hold:

* no command printed a traceback or ended with an exit code that it does not have;
* every file that the maker wrote or edited is there as she left it (a file that a command had to
  write is under another name beside it);
* thread is conserved: for every thread, what is on hand and what the bookings that stand took is
  what was there at first and what she added by hand;
* every booking that a command said it made is in the book, once;
* every gallery is that of its brief: a run folder that she did not edit is, byte for byte, the one
  that a fresh search of its brief writes; in the others no design breaks a limit of the brief.

An hour of it: ``python tests/chaos.py --seconds 3600 --seed 5``.  As root the folder is a small
disk of its own (tmpfs) that really fills; else processes get a limit on the size of files.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import re
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time
import tomllib
from collections import Counter
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

from filelock import FileLock, Timeout

#: What a command may end with: done, failed, refused; interrupted; or by a signal.
EXITS = {0, 1, 2, 130, 143, -signal.SIGINT, -signal.SIGKILL, -signal.SIGTERM}
#: No command takes longer; one that does is stuck.
PATIENCE_S = 300
DISK_MB = 96
RUNS = ("lanes", "waves", "both")
#: What she does by hand.
HANDS = ("note", "note", "pattern", "damage", "run brief", "brief", "box", "top note")
STASH = """\
# My box.  (This remark stays, whatever is booked.)

[[threads]]
name = "teal"        # the good one
colour = "#1c6b70"
tex = 250
pieces_m = [
  8, 8, 8,
  3.4,  # left over ] from spring
]

[[threads]]
name = "sand"
colour = "#d8c39a"
tex = 250
pieces_m = [8, 8, 5.2]

[[threads]]
name = "brick"
colour = "#a5432d"
tex = 250
pieces_m = [8, 8, 2.65]
"""
BRIEF = """\
# {title}: as I want it
title = "{title}"
stash = "stash.toml"
strands = {strands}
length_mm = {length}
colours_max = 3

[limits]
repeat_rows_max = 16
contrast_min = 12

[search]
seed = {seed}
population = 30
generations = 12
exchange_every = 4
rest_after = 0
periods = [4, 6]

[gallery]
size = 2
"""


PATTERN = """\
format = "motifsearch-pattern-1"
title = "Chevron"
rows = ["rr rr ll ll", "rr rr ll"]
colour_order = ["teal", "brick", "sand", "sand", "sand", "sand", "brick", "teal"]

[colours]
teal = "#1c6b70"
brick = "#a5432d"
sand = "#d8c39a"
"""


@dataclass
class World:
    """What the actors share, and what was seen."""

    folder: Path
    small_disk: bool
    faults: list[str] = field(default_factory=list)
    hers: dict[Path, list[bytes]] = field(default_factory=dict)
    edited: set[str] = field(default_factory=set)
    added_mm: Counter[str] = field(default_factory=Counter)
    booked: Counter[str] = field(default_factory=Counter)
    done: Counter[str] = field(default_factory=Counter)
    guard: threading.Lock = field(default_factory=threading.Lock)

    def fault(self, text: str) -> None:
        with self.guard:
            self.faults.append(text)

    def count(self, what: str) -> None:
        with self.guard:
            self.done[what] += 1


def lay_out(folder: Path) -> None:
    """Write the box, two briefs and a pattern."""
    (folder / "stash.toml").write_text(STASH, encoding="utf-8")
    for name, strands, length, seed in (("lanes", 6, 60, 3), ("waves", 8, 50, 4)):
        text = BRIEF.format(title=name.title(), strands=strands, length=length, seed=seed)
        (folder / f"{name}.toml").write_text(text, encoding="utf-8")
    (folder / "chevron.toml").write_text(PATTERN, encoding="utf-8")


def environment(folder: Path) -> dict[str, str]:
    root = Path(__file__).parents[1]
    path = os.pathsep.join(filter(None, (str(root), os.environ.get("PYTHONPATH", ""))))
    return {**os.environ, "PYTHONPATH": path, "TMPDIR": str(folder)}


def motifsearch(
    world: World, args: Sequence[object], *, kill_after: float | None = None,
    how: int = signal.SIGKILL, file_limit: int | None = None,
) -> tuple[int, str, str]:  # fmt: skip
    """Run a command to its end, or to a signal."""
    limit: Callable[[], None] | None = None
    if file_limit is not None:
        size = file_limit
        limit = lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))  # noqa: E731
    process = subprocess.Popen(
        [sys.executable, "-m", "motifsearch", *map(str, args)],
        cwd=world.folder, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        start_new_session=True, env=environment(world.folder), preexec_fn=limit,
    )  # fmt: skip
    out = err = ""
    try:
        try:
            out, err = process.communicate(timeout=kill_after or PATIENCE_S)
        except subprocess.TimeoutExpired:
            if kill_after is None:
                world.fault(f"stuck for {PATIENCE_S} s: {args}")
                how = signal.SIGKILL
            with suppress(ProcessLookupError):
                os.killpg(process.pid, how)
            out, err = process.communicate(timeout=PATIENCE_S)
    finally:
        with suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGKILL)
    code = process.returncode
    if "Traceback" in out + err or code not in EXITS:
        world.fault(f"exit {code} from {args}\n{out[-500:]}\n{err[-3000:]}")
    world.count(f"{args[0]}{' ' + str(args[1]) if args[0] == 'stash' else ''} -> {code}")
    return code, out, err


def a_command(world: World, dice: random.Random) -> list[object]:
    """Return a random command on the shared folder."""
    run = dice.choice(RUNS)
    brief = dice.choice(("lanes", "waves"))
    patterns = sorted(world.folder.glob("*/candidates/*/pattern.toml"))
    pattern = dice.choice([world.folder / "chevron.toml", *patterns])
    kinds: list[tuple[int, list[object]]] = [
        (4, ["search", f"{brief}.toml", "--out", brief, "--workers", dice.choice((1, 2))]),
        (3, ["search", f"{brief}.toml", "--out", brief, "--workers", 1, "--overwrite"]),
        (4, ["search", "--resume", run, "--workers", 1]),
        (3, ["gallery", run]),
        (2, ["gallery", "lanes", "waves", "--out", "both", "--overwrite"]),
        (1, ["gallery", run, "--favourite", dice.choice(("1", "002", "9"))]),
        (8, ["stash", "use", pattern, "--stash", "stash.toml", "--length", dice.choice((20, 40))]),
        (4, ["stash", "undo", "stash.toml"]),
        (2, ["stash", "undo", "stash.toml", dice.randint(1, 12)]),
        (2, ["stash", "log", "stash.toml"]),
        (1, ["chart", run]),
        (1, ["cut", pattern, "--length", 60, "--stash", "stash.toml"]),
        (1, ["kits", pattern, "--length", 60, "--stash", "stash.toml"]),
        (1, ["search", f"{brief}.toml", "--out", ".", "--overwrite"]),
        (1, ["worksheet", pattern, "--out", f"sheet-{dice.randint(1, 3)}.pdf"]),
    ]
    return dice.choices([k for _, k in kinds], [w for w, _ in kinds])[0]


def actor(world: World, dice: random.Random, until: float) -> None:
    """Run commands one after another; some are broken off."""
    while time.monotonic() < until:
        args = a_command(world, dice)
        fate = dice.random()
        kill = how = limit = None
        if fate < 0.3:
            kill, how = dice.uniform(0.2, 6.0), signal.SIGKILL
        elif fate < 0.45:
            kill, how = dice.uniform(0.5, 5.0), dice.choice((signal.SIGINT, signal.SIGTERM))
        elif fate < 0.5:
            limit = dice.choice((0, 300, 3_000, 40_000))
        code, out, _ = motifsearch(
            world, args, kill_after=kill, how=how or signal.SIGKILL, file_limit=limit
        )
        if args[:2] == ["stash", "use"] and code == 0:
            found = re.search(r"[Bb]ooking (\d+)", out)
            if found is None:
                world.fault(f"a booking was not named: {out[-300:]}")
            else:
                with world.guard:
                    world.booked[found[1]] += 1


def disk(world: World, dice: random.Random, until: float) -> None:
    """Fill the disk, leave a little or nothing, and free it again."""
    filler = world.folder / ".filler"
    while world.small_disk and time.monotonic() < until:
        time.sleep(dice.uniform(4, 12))
        free = shutil.disk_usage(world.folder).free
        leave = dice.choice((0, 2_000, 20_000, 200_000))
        with suppress(OSError), filler.open("wb") as out:
            out.write(bytes(max(free - leave, 0)))
            out.flush()
        world.count("disk filled")
        time.sleep(dice.uniform(0.5, 4))
        filler.unlink(missing_ok=True)


def put(path: Path, data: bytes) -> bool:
    """Save as an editor does: beside it, then in its place."""
    beside = path.with_name(f"{path.name}.hers~")
    try:
        beside.write_bytes(data)
        os.replace(beside, path)
    except OSError:  # the disk is full, or the folder has just gone
        with suppress(OSError):
            beside.unlink(missing_ok=True)
        return False
    return True


def maker(world: World, dice: random.Random, until: float) -> None:
    """Edit by hand: notes, patterns, briefs of runs, the box."""
    number = 0
    while time.monotonic() < until:
        time.sleep(dice.uniform(0.5, 3))
        number += 1
        what = dice.choice(HANDS)
        # One run is left alone (a design with a note of hers stays in its place, whatever is
        # searched anew), so that its gallery can be held against a fresh search.
        places = sorted(world.folder.glob("*/candidates/*/pattern.toml"))
        if what in ("note", "pattern", "damage", "run brief"):
            places = [p for p in places if p.parents[2].name != "waves"]
        if what == "box":
            add_thread(world, dice)
            continue
        if what == "brief":
            path = world.folder / f"{dice.choice(('lanes', 'waves'))}.toml"
            text = path.read_text(encoding="utf-8")
            new = re.sub(r"contrast_min = \d+", f"contrast_min = {dice.choice((0, 12, 18))}", text)
            save_hers(world, path, re.sub(r"seed = \d+", f"seed = {number % 3}", new).encode())
            continue
        if what == "top note":
            path = world.folder / dice.choice(RUNS) / "my notes.txt"
            data = f"note {number}: ask for the long ones\n".encode()
        elif not places:
            continue
        elif what == "note":
            path = dice.choice(places).with_name(f"mine-{number}.txt")
            data = f"note {number}: she wants this one in brick\n".encode()
        elif what == "run brief":
            path = dice.choice(places).parents[2] / "brief.toml"
            with suppress(OSError):
                data = path.read_bytes() + f"# seen {number}\n".encode()
                world.edited.add(path.parent.name)
                save_hers(world, path, data)
            continue
        else:
            path = dice.choice(places)
            with suppress(OSError):
                text = path.read_text(encoding="utf-8")
                old, new = ("rows", "rosw") if what == "damage" else ("title", f"# {number}\ntitle")
                world.edited.add(path.parents[2].name)
                save_hers(world, path, text.replace(old, new, 1).encode())
            continue
        if path.parent.is_dir():
            save_hers(world, path, data)


def save_hers(world: World, path: Path, data: bytes) -> None:
    if put(path, data):
        with world.guard:
            # What she writes over herself she no longer asks for.
            world.hers[path] = [data]
        world.count("edited by hand")


def add_thread(world: World, dice: random.Random) -> None:
    """Add a piece to the box by hand; she does it when nobody books."""
    path = world.folder / "stash.toml"
    lock = FileLock(path.with_name(f".{path.name}.lock"))
    try:
        with lock.acquire(timeout=2):
            # What a killed booking left is ended by the next command; she waits for it.
            if path.with_name(f".{path.name}.next").exists():
                return
            text = path.read_text(encoding="utf-8")
            metres = dice.randint(3, 9)
            name = dice.choice(("teal", "sand", "brick"))
            head, found, tail = text.partition(f'name = "{name}"')
            tail = tail.replace("pieces_m = [", f"pieces_m = [{metres}, ", 1)
            if put(path, (head + found + tail).encode()):
                with world.guard:
                    world.added_mm[name] += metres * 1000
                world.count("added to the box by hand")
    except (Timeout, OSError):
        return


def settle(world: World) -> None:
    """Let everything that was broken off go on and end."""
    (world.folder / ".filler").unlink(missing_ok=True)
    motifsearch(world, ["stash", "undo", "stash.toml", 999_999])
    for name in RUNS:
        if (world.folder / name / "checkpoint.npz").exists():
            motifsearch(world, ["search", "--resume", name, "--workers", "1"])
        if (world.folder / name).is_dir():
            motifsearch(world, ["gallery", name])


def check_hers(world: World) -> None:
    for path, versions in world.hers.items():
        beside = [p for p in path.parent.glob(f"{path.stem}*") if p.is_file()]
        around = {p.read_bytes() for p in beside}
        for data in versions:
            if data not in around:
                here = path.relative_to(world.folder)
                world.fault(f"lost of hers: {here}: {data[-60:]!r}; there is {beside}")


def check_box(world: World) -> None:
    on_hand = tomllib.loads((world.folder / "stash.toml").read_text(encoding="utf-8"))
    if "This remark stays" not in (world.folder / "stash.toml").read_text(encoding="utf-8"):
        world.fault("the remarks in the box are gone")
    entries: dict[int, dict[str, object]] = {}
    over: set[int] = set()
    for line in (world.folder / "stash.bookings.jsonl").read_text(encoding="utf-8").splitlines():
        with suppress(ValueError):  # a line that was broken off by a kill or a full disk
            data = json.loads(line)
            if data["event"] in ("book", "undo"):
                entries[data["entry"]] = data
            elif data["event"] == "dropped":
                over.add(data["entry"])
    stands: dict[int, list[dict[str, float | str]]] = {}
    made: Counter[str] = Counter()
    for entry, data in sorted(entries.items()):
        if entry in over:
            continue
        if data["event"] == "book":
            stands[data["number"]] = data["pieces"]  # type: ignore[index, assignment]
            made[str(data["number"])] += 1
        else:
            stands.pop(data["number"], None)  # type: ignore[call-overload]
    for number, times in world.booked.items():
        if made[number] != times:
            world.fault(f"booking {number}: said {times} times, in the book {made[number]} times")
    first = {t["name"]: sum(t["pieces_m"]) * 1000 for t in tomllib.loads(STASH)["threads"]}
    for thread in on_hand["threads"]:
        name = thread["name"]
        now = sum(thread["pieces_m"]) * 1000
        cut = sum(
            float(p["piece_mm"]) - float(p["left_mm"])
            for pieces in stands.values() for p in pieces if p["thread"] == name
        )  # fmt: skip
        # A leftover too short to keep goes when it is cut; the book says how long it was.
        short = lost_mm(stands, name)
        was = first[name] + world.added_mm[name]
        if abs(now + cut + short - was) > 1.0:
            world.fault(f"{name}: {now:.0f} on hand + {cut:.0f} cut + {short:.0f} short != {was}")


def lost_mm(stands: dict[int, list[dict[str, float | str]]], name: str) -> float:
    """Return what is left of chains whose last piece was too short to be kept, in mm."""
    chains: dict[tuple[int, int], list[float]] = {}
    for number, pieces in sorted(stands.items()):
        for index, p in enumerate(pieces):
            if p["thread"] == name:
                root = tuple(p["root"]) if p["root"] else (number, index)  # type: ignore[arg-type]
                chains.setdefault(root, []).append(float(p["left_mm"]))  # type: ignore[arg-type]
    return sum(left[-1] for left in chains.values() if 0 < left[-1] < 300)


def check_galleries(world: World) -> None:
    for name in ("lanes", "waves"):
        run = world.folder / name
        if not (run / "run.json").exists():
            continue
        brief = tomllib.loads((run / "brief.toml").read_text(encoding="utf-8"))
        for scores in sorted(run.glob("candidates/*/scores.json")):
            s = json.loads(scores.read_text(encoding="utf-8"))
            if s["strands"] != brief["strands"]:
                world.fault(f"{scores}: {s['strands']} strands, {brief['strands']} were asked for")
            if s["repeat_rows"] > brief["limits"]["repeat_rows_max"]:
                world.fault(f"{scores}: repeat of {s['repeat_rows']}")
        if name in world.edited:
            continue
        info = json.loads((run / "run.json").read_text(encoding="utf-8"))
        fresh = world.folder / f"fresh-{name}"
        text = (run / "brief.toml").read_text(encoding="utf-8")
        stash = (run / "stash.toml").read_bytes()
        again = world.folder / f"again-{name}"
        again.mkdir()
        (again / "brief.toml").write_text(text, encoding="utf-8")
        (again / "stash.toml").write_bytes(stash)
        code, _, err = motifsearch(
            world, ["search", again / "brief.toml", "--out", fresh, "--workers", 1]
        )
        if code:
            world.fault(f"{name}: its own brief ends with {code}: {err[-400:]}")
            continue
        if info["stopped_by"] not in ("generations", "rest", "whole"):
            continue
        for mine in ("ranking.csv", "gallery.png"):
            if (run / mine).read_bytes() != (fresh / mine).read_bytes():
                world.fault(f"{name}/{mine} is not that of its brief")
        world.count("gallery held against a fresh search")


def chaos(folder: Path, seconds: float, seed: int, small_disk: bool) -> World:
    """Do it, and return what was seen."""
    world = World(folder, small_disk)
    lay_out(folder)
    until = time.monotonic() + seconds
    rooms = [actor, actor, actor, maker, disk]
    threads = [
        threading.Thread(target=room, args=(world, random.Random(seed * 100 + k), until))
        for k, room in enumerate(rooms)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    settle(world)
    check_hers(world)
    check_box(world)
    check_galleries(world)
    return world


def main() -> int:
    """Run from the command line; the exit code says whether all held."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--seconds", type=float, default=60)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    folder = Path(tempfile.mkdtemp(prefix="chaos-"))
    mount = ["mount", "-t", "tmpfs", "-o", f"size={DISK_MB}m", "tmpfs", str(folder)]
    small = os.geteuid() == 0 and subprocess.run(mount, capture_output=True).returncode == 0
    try:
        world = chaos(folder, asked.seconds, asked.seed, small)
    finally:
        if small and not os.environ.get("CHAOS_KEEP"):
            subprocess.run(["umount", "-l", str(folder)], check=False)
    for what, times in sorted(world.done.items()):
        print(f"{times:6d}  {what}")
    for text in world.faults:
        print(f"FAULT {text}")
    print(f"{len(world.faults)} faults; a disk of its own: {'yes' if small else 'no'}; {folder}")
    return bool(world.faults)


if __name__ == "__main__":
    sys.exit(main())

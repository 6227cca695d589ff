#!/usr/bin/env python3
"""Reads photographs of many backs on Apache Spark: one picture is one task.

    spark-submit batch/read_backs.py PHOTOGRAPHS OUT --program dorso --lists LISTS
    python batch/read_backs.py PHOTOGRAPHS OUT --program dorso --master 'local[4]'

What is written and what is promised stands in docs/batch.md.
"""

from __future__ import annotations

import argparse
import csv
import hashlib
import json
import math
import os
import resource
import subprocess
import sys
import tempfile
import threading
import time
import uuid
import zipfile
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from pyspark import SparkFiles, TaskContext
from pyspark.sql import DataFrame, Row, SparkSession
from pyspark.sql import functions as F

# As the program itself takes for photographs in a folder.
PHOTOGRAPHS = {".jpg", ".jpeg", ".jpe", ".jfif", ".png", ".tif", ".tiff", ".webp", ".heic", ".heif"}
# How often a picture is tried where each time the executor that read it died; the last only says so.
ATTEMPTS = 5
# Pictures of one Spark job: as many as are told to the scheduler at once.
WAVE = 20_000
# Longest reason that is kept, characters.
REASON = 2_000

PHOTOGRAPH = "struct<file: string, sha256: string, bytes: bigint, modified: bigint>"
HEAD = f"""picture string, wave string, status string, reason string, program string, program_sha256 string,
    lists_sha256 string, at string, seconds double, limit_seconds int, memory_mib double,
    photographs array<{PHOTOGRAPH}>"""
LINE = "struct<text: string, leiden: string, confidence: double>"
PROPOSAL = "struct<list: string, entry: string, name: string, probability: double>"
STATED = """struct<role: string, value: string, words: string, line: int, chance: double, list: string,
    entry: string>"""
MARKS = f"""struct<marks: array<struct<mark: string, kind: string,
    sightings: array<struct<photo: int, joined: double>>, lines: array<{LINE}>, proposals: array<{PROPOSAL}>,
    unlisted: double, statements: array<{STATED}>, needs_person: boolean, because: array<string>>>>"""


@dataclass(frozen=True)
class Settings:
    """What every task has to know; `lists` is None for the program's own starter lists."""

    program: str
    version: str
    program_sha256: str
    lists: str | None
    lists_sha256: str
    seconds: int
    memory_mib: int

    def reads_as(self, row: Row) -> bool:
        """Whether a kept row was read by this program with these lists."""
        return (row.program_sha256, row.lists_sha256) == (self.program_sha256, self.lists_sha256)


def sha256(file: str | Path) -> str | None:
    """Digest of a file's bytes; None where it can't be read."""
    try:
        with open(file, "rb") as opened:
            return hashlib.file_digest(opened, "sha256").hexdigest()
    except OSError:
        return None


def stamp(file: str) -> tuple[int, int] | None:
    """Size and moment of the last change, in nanoseconds; None where the file isn't there."""
    try:
        about = os.stat(file)
    except OSError:
        return None
    return about.st_size, about.st_mtime_ns


def pictures(given: Path) -> dict[str, list[str]]:
    """Photographs by picture.

    Of a folder: each folder below that holds photographs is a picture, each photograph in the folder itself is one.
    Of a CSV file: its columns `picture` and `photograph`, paths as seen from that file.
    """
    found: dict[str, list[str]] = {}
    if given.is_dir():
        for folder, below, files in os.walk(given):
            below[:] = sorted(name for name in below if not name.startswith("."))
            place = Path(folder).relative_to(given)
            for name in sorted(files):
                if not name.startswith(".") and Path(name).suffix.lower() in PHOTOGRAPHS:
                    picture = place.as_posix() if place.parts else name
                    found.setdefault(picture, []).append(str((Path(folder) / name).absolute()))
        return found
    with open(given, encoding="utf-8-sig", newline="") as rows:
        for number, row in enumerate(csv.DictReader(rows), start=2):
            picture, photograph = row.get("picture"), row.get("photograph")
            if not picture or not photograph:
                sys.exit(f"read_backs: {given}, row {number}: picture or photograph is missing; fill both columns.")
            found.setdefault(picture, []).append(str((given.parent / photograph).absolute()))
    return found


def limited(seconds: int, memory_mib: int) -> None:
    """Bounds the program from within, also where nobody is left to end it."""
    resource.setrlimit(resource.RLIMIT_CPU, (2 * seconds, 2 * seconds + 5))
    memory = memory_mib << 20
    resource.setrlimit(resource.RLIMIT_AS, (memory, memory))


def run_program(photographs: list[str], settings: Settings, folder: Path) -> tuple[int, bool, float]:
    """Runs the program; its exit status, whether it took too long, and the most memory that it held, MiB."""
    command: list[str] = [
        str(SparkFiles.get(settings.program)),
        "read",
        "--json",
        "--no-store",
        "--keep-run",
        str(folder / "run"),
    ]
    if settings.lists is not None:
        command += ["--gazetteer", str(SparkFiles.get(settings.lists))]
    context = TaskContext.get()
    cores = context.cpus() if context else 1
    environment = {"PATH": os.defpath, "RAYON_NUM_THREADS": str(cores)}
    # What is made ready of long lists is kept there, once an executor.
    environment["XDG_DATA_HOME"] = str(SparkFiles.getRootDirectory())
    with open(folder / "out", "wb") as out, open(folder / "err", "wb") as err:
        process = subprocess.Popen(
            [*command, "--", *photographs],
            cwd=folder,
            env=environment,
            stdin=subprocess.DEVNULL,
            stdout=out,
            stderr=err,
            preexec_fn=lambda: limited(settings.seconds, settings.memory_mib),
        )
        late = threading.Event()

        def end() -> None:
            late.set()
            process.kill()

        timer = threading.Timer(settings.seconds, end)
        timer.start()
        _, status, usage = os.wait4(process.pid, 0)
        timer.cancel()
        process.returncode = os.waitstatus_to_exitcode(status)
    return process.returncode, late.is_set(), usage.ru_maxrss / 1024


def reason_of(code: int, said: str) -> str:
    """Why the program couldn't read a picture, in words."""
    ended = f"it was ended by signal {-code}" if code < 0 else f"it ended with status {code}"
    return f"{said}; {ended}" if said else ended


def read_one(picture: str, photographs: list[str], settings: Settings) -> str:
    """Reads a picture where the task runs; one line of JSON, whatever becomes of it."""
    row: dict[str, Any] = {
        "picture": picture,
        "status": "failed",
        "program": settings.version,
        "program_sha256": settings.program_sha256,
        "lists_sha256": settings.lists_sha256,
        "at": datetime.now(UTC).isoformat(timespec="seconds"),
        "limit_seconds": settings.seconds,
    }
    stamps = [stamp(file) or (None, None) for file in photographs]
    row["photographs"] = [
        {"file": file, "sha256": sha256(file), "bytes": size, "modified": modified}
        for file, (size, modified) in zip(photographs, stamps, strict=True)
    ]
    context = TaskContext.get()
    if context and context.attemptNumber() >= ATTEMPTS - 1:
        return json.dumps(row | {"reason": f"the executor that read it died {ATTEMPTS - 1} times"})
    began = time.monotonic()
    with tempfile.TemporaryDirectory(prefix="back-") as name:
        folder = Path(name)
        try:
            code, late, row["memory_mib"] = run_program(photographs, settings, folder)
            said = (folder / "err").read_text(errors="replace").strip().replace("\n", " ")[:REASON]
            out = (folder / "out").read_text()
            read = bool(out) and bool(json.loads(out)["photos"])
            if late:
                row |= {"status": "timeout", "reason": f"it took longer than {settings.seconds} seconds"}
            elif code in (0, 1) and read:
                # Some photographs of the picture may be damaged: then it says which.
                run = (folder / "run").read_text()
                row |= {"status": "ok", "reason": said or None, "readings": out, "run": run}
            else:
                row["reason"] = reason_of(code, said)
        except (OSError, ValueError, KeyError, subprocess.SubprocessError) as error:
            row["reason"] = f"the program couldn't be run, or what it told not be understood: {error}"
    row["seconds"] = round(time.monotonic() - began, 3)
    return json.dumps(row)


def exists(spark: SparkSession, path: str) -> bool:
    """Whether Spark finds something at an address."""
    jvm: Any = spark._jvm
    session = spark._jsparkSession
    place = jvm.org.apache.hadoop.fs.Path(path)
    return bool(place.getFileSystem(session.sessionState().newHadoopConf()).exists(place))


def newest(spark: SparkSession, out: str, columns: str) -> DataFrame | None:
    """For each picture the row of its last reading; None before the first."""
    if not exists(spark, f"{out}/readings"):
        return None
    rows = spark.read.schema(columns).json(f"{out}/readings")
    last = rows.groupBy("picture").agg(F.max("wave").alias("wave"))
    return rows.join(last, ["picture", "wave"])


def unread(
    spark: SparkSession, found: dict[str, list[str]], kept: dict[str, Row], settings: Settings, again: bool
) -> list[str]:
    """Pictures that are missing, or were read by another program, with other lists or of other photographs."""
    wanted, suspects = [], []
    for picture, files in found.items():
        row = kept.get(picture)
        if row is None or not settings.reads_as(row) or [p.file for p in row.photographs] != files:
            wanted.append(picture)
        elif (again and row.status != "ok") or (row.status == "timeout" and row.limit_seconds < settings.seconds):
            wanted.append(picture)
        elif any(stamp(p.file) != (p.bytes, p.modified) for p in row.photographs):
            suspects.append((picture, [(p.file, p.sha256) for p in row.photographs]))
    if suspects:
        # Copied or touched: only what has other bytes is read again.
        slices = min(len(suspects), 1_000)
        changed = spark.sparkContext.parallelize(suspects, slices).filter(
            lambda s: any(sha256(f) != h for f, h in s[1])
        )
        wanted += [picture for picture, _ in changed.collect()]
    return wanted


def read_all(spark: SparkSession, out: str, tasks: list[tuple[str, list[str]]], settings: Settings, each: int) -> None:
    """Reads pictures and adds their rows; what a task read is there as soon as it ends, whole."""
    for begin in range(0, len(tasks), WAVE):
        some = tasks[begin : begin + WAVE]
        lines = spark.sparkContext.parallelize(some, math.ceil(len(some) / each))
        rows = lines.map(lambda task: (read_one(task[0], task[1], settings),))
        wave = f"{datetime.now(UTC):%Y%m%dT%H%M%S%f}-{uuid.uuid4().hex[:8]}"
        to = spark.createDataFrame(rows, "value string").write.option("compression", "gzip")
        to.text(f"{out}/readings/wave={wave}")


def write_tables(spark: SparkSession, out: str) -> None:
    """Tells all readings as tables: one row a statement, a mark, a picture; that of pictures last."""
    rows = newest(spark, out, f"{HEAD}, readings string")
    if rows is None:
        return
    told = rows.select("picture", F.explode(F.from_json("readings", MARKS).marks).alias("m"))
    statements = told.select("picture", "m.mark", F.explode("m.statements").alias("s")).select("picture", "mark", "s.*")
    marks = told.select("picture", "m.*").drop("statements")
    for name, table in {"statements": statements, "marks": marks, "pictures": rows}.items():
        table.write.mode("overwrite").parquet(f"{out}/{name}")


def told_of(spark: SparkSession, out: str) -> str | None:
    """The last wave that the tables tell of; None where there are none."""
    if not exists(spark, f"{out}/pictures/_SUCCESS"):
        return None
    last: str | None = spark.read.parquet(f"{out}/pictures").agg(F.max("wave")).collect()[0][0]
    return last


def shipped(spark: SparkSession, program: Path, lists: Path | None, seconds: int, memory_mib: int) -> Settings:
    """Sends the program and the lists to the executors."""
    version = subprocess.run([program, "--version"], capture_output=True, text=True, check=True).stdout.strip()
    spark.sparkContext.addFile(str(program))
    digest = hashlib.sha256()
    if lists is not None:
        archive = Path(tempfile.mkdtemp(prefix="lists-")) / "lists.zip"
        with zipfile.ZipFile(archive, "w", zipfile.ZIP_DEFLATED) as packed:
            for file in sorted(f for f in lists.iterdir() if f.is_file() and not f.name.startswith(".")):
                content = file.read_bytes()
                digest.update(f"{file.name}\0{len(content)}\0".encode() + content)
                packed.writestr(file.name, content)
        spark.sparkContext.addArchive(f"{archive}#lists")
    return Settings(
        program=program.name,
        version=version,
        program_sha256=sha256(program) or "",
        lists="lists" if lists is not None else None,
        lists_sha256=digest.hexdigest() if lists is not None else "starter lists",
        seconds=seconds,
        memory_mib=memory_mib,
    )


def arguments() -> argparse.Namespace:
    """What the command line says."""
    parser = argparse.ArgumentParser(description="Reads photographs of many backs on Apache Spark.")
    parser.add_argument("photographs", type=Path, help="folder, or CSV file with the columns picture and photograph")
    parser.add_argument("out", help="folder, or any address that Spark writes to")
    parser.add_argument("--lists", type=Path, help="folder of the lists; else the program's starter lists")
    parser.add_argument("--program", type=Path, default=Path("dorso"), help="the program, built for the executors")
    parser.add_argument("--seconds", type=int, default=300, help="longest that a picture may take (300)")
    parser.add_argument("--memory", type=int, default=4096, help="most address space of the program, MiB (4096)")
    parser.add_argument("--each", type=int, default=1, help="pictures of one task (1)")
    parser.add_argument("--again", action="store_true", help="also read again what failed or took too long")
    parser.add_argument("--master", help="where Spark runs; else what spark-submit says")
    return parser.parse_args()


def main() -> None:
    """Reads what isn't read yet and tells what came of it."""
    a = arguments()
    found = pictures(a.photographs)
    if not found:
        sys.exit(f"read_backs: {a.photographs}: no photographs are there; name a folder of them or a list.")
    if not a.program.is_file():
        sys.exit(f"read_backs: {a.program}: the program isn't there; name it with --program.")
    os.environ.setdefault("PYSPARK_PYTHON", sys.executable)
    builder = SparkSession.builder.appName("read backs")
    if a.master:
        builder = builder.master(a.master)
    # By the second way of committing, what a task wrote is moved to its place when the task ends, not the job.
    builder = builder.config("spark.hadoop.mapreduce.fileoutputcommitter.algorithm.version", "2")
    builder = builder.config("spark.task.maxFailures", str(ATTEMPTS))
    builder = builder.config("spark.sql.sources.partitionColumnTypeInference.enabled", "false")
    spark = builder.getOrCreate()
    settings = shipped(spark, a.program, a.lists, a.seconds, a.memory)
    heads = newest(spark, a.out, HEAD)
    kept = {row.picture: row for row in heads.collect()} if heads is not None else {}
    wanted = unread(spark, found, kept, settings, a.again)
    print(f"pictures: {len(found)}; to read: {len(wanted)}", flush=True)
    read_all(spark, a.out, [(picture, found[picture]) for picture in wanted], settings, a.each)
    if wanted or told_of(spark, a.out) != max(row.wave for row in kept.values()):
        write_tables(spark, a.out)
    counts = spark.read.parquet(f"{a.out}/pictures").groupBy("status").count().collect()
    print("; ".join(f"{row['status']}: {row['count']}" for row in sorted(counts)), flush=True)
    spark.stop()


if __name__ == "__main__":
    main()

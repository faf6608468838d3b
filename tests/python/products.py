"""Runs the query of `canewright products` on DataFusion and on SQLite and holds what comes back against canewright's own sums.

A table of reeds is made up: forty lots and some more with no complete reed, columns far from zero and of very different size, missing cells, reeds without
a lot, names with blanks and quotes. The sums of each engine must be canewright's own to ten digits, and so must the answers that start from them.

    python products.py PROGRAM
"""

import csv
import json
import math
import pathlib
import random
import sqlite3
import subprocess
import sys
import tempfile

import datafusion
import pyarrow
import pyarrow.csv
import pyarrow.parquet

DIGITS = 1e-10
FACTORS = ["hardness", "forming_days", "gouge_center_mm", 'room "A" hPa']
SCORE = "rating"
ABOUT = [f"{FACTORS[3]}=1010", f"{SCORE}=6"]

program = sys.argv[1]


def reeds():
    """Rows of lot, factors and score; a missing cell is None."""
    chance = random.Random(20251130)
    rows = []
    for lot in range(43):
        soft, mood = chance.gauss(0, 2), chance.gauss(0, 0.6)
        for _ in range(1 if lot == 7 else chance.randint(20, 60)):
            hardness = round(20 + soft + chance.gauss(0, 3), 1)
            days = chance.randint(3, 40)
            gouge = round(chance.gauss(1.25, 0.02), 3)
            pressure = round(chance.gauss(1013, 8), 2)
            score = 6 + mood - 0.15 * (hardness - 20) + 0.02 * days + 0.01 * (pressure - 1013) + chance.gauss(0, 0.8)
            row = [f"Lot {lot}" if chance.random() > 0.01 else None, hardness, days, gouge, pressure, round(score, 1)]
            for column in (1, 2, 4, 5):
                if chance.random() < 0.05 or lot >= 41:
                    row[column] = None
            rows.append(row)
    return rows


def canewright(*words):
    done = subprocess.run([program, *words], capture_output=True, text=True, check=False)
    # 1: done, and the log has cells that could not be read
    if done.returncode == 2:
        sys.exit(f"canewright {' '.join(words)}: {done.stderr}")
    return done.stdout


def by_datafusion(query, table):
    context = datafusion.SessionContext()
    context.from_arrow(table, name="reeds")
    return context.sql(query).to_arrow_table().to_pylist()


def by_sqlite(query, table):
    connection = sqlite3.connect(":memory:")
    connection.row_factory = sqlite3.Row
    names = [field.name for field in table.schema]
    quoted = ", ".join('"' + name.replace('"', '""') + '"' for name in names)
    connection.execute(f"CREATE TABLE reeds ({quoted})")
    marks = ", ".join("?" for _ in names)
    connection.executemany(f"INSERT INTO reeds VALUES ({marks})", zip(*(column.to_pylist() for column in table.columns)))
    return [dict(row) for row in connection.execute(query)]


def write_csv(path, rows):
    with open(path, "w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, rows[0].keys())
        writer.writeheader()
        # repr gives the shortest digits that read back to the same number
        writer.writerows({key: repr(cell) if isinstance(cell, float) else cell for key, cell in row.items()} for row in rows)


def number(cell):
    return float(cell) if cell not in (None, "") else None


def compare_sums(own, other, engine):
    """Cell by cell; how far a sum is off is counted in the size of what was summed."""
    own = {row["lot"]: row for row in own}
    other = {row["lot"] or "": row for row in other}
    if own.keys() != other.keys():
        sys.exit(f"{engine}: other lots: {own.keys() ^ other.keys()}")
    worst, compared = 0.0, 0
    for lot, row in own.items():
        if row.keys() != other[lot].keys():
            sys.exit(f"{engine}: other columns: {row.keys() ^ other[lot].keys()}")
        for column in row.keys() - {"lot", "score"}:
            a, b = number(row[column]), number(other[lot][column])
            if lot == "" and column not in ("reeds",):
                continue
            if (a is None) != (b is None):
                sys.exit(f"{engine}: {lot}, {column}: {a} and {b}")
            if a is not None:
                size = max(abs(a), scale(row, column))
                worst = max(worst, abs(a - b) / size if size else abs(a - b))
                compared += 1
    return worst, compared


def scale(row, column):
    """A sum of differences about zero is held against the root of n times the sum of their squares."""
    used = number(row["used"])
    for name in [*FACTORS, SCORE]:
        if column == f"sum of {name}":
            return math.sqrt(used * number(row[f"product of {name} and {name}"]))
        for other in [*FACTORS, SCORE]:
            if column == f"product of {name} and {other}":
                squares = [number(row[f"product of {one} and {one}"]) for one in (name, other)]
                return math.sqrt(squares[0] * squares[1])
    return 0.0


def compare_answers(own, other, engine, path=""):
    """The worst relative difference between two answers, number by number."""
    if isinstance(own, dict):
        if own.keys() != other.keys():
            sys.exit(f"{engine}: {path}: other keys")
        return max(compare_answers(own[key], other[key], engine, f"{path}/{key}") for key in own)
    if isinstance(own, list):
        if len(own) != len(other):
            sys.exit(f"{engine}: {path}: another length")
        return max((compare_answers(a, b, engine, f"{path}/{i}") for i, (a, b) in enumerate(zip(own, other))), default=0.0)
    if isinstance(own, (int, float)) and not isinstance(own, bool):
        return abs(own - other) / abs(own) if own else abs(other)
    if own != other:
        sys.exit(f"{engine}: {path}: {own} and {other}")
    return 0.0


def main():
    folder = pathlib.Path(tempfile.mkdtemp())
    names = ["lot", *FACTORS, SCORE]
    table = pyarrow.table([pyarrow.array(column) for column in zip(*reeds())], names=names)
    log = folder / "log"
    log.mkdir()
    numbered = table.add_column(0, "reed", pyarrow.array([f"R{row}" for row in range(len(table))]))
    pyarrow.parquet.write_table(numbered, log / "reeds.parquet")
    (log / "study.toml").write_text('scale = [0, 12]\n[columns."room \\"A\\" hPa"]\nis = "room_hpa"\nkind = "number"\nstage = "form"\n')

    about = [word for one in ABOUT for word in ("--about", one)]
    query = canewright("products", *FACTORS, "--score", SCORE, *about)
    # the log knows the last factor by a name of its own
    named = [name.replace('room "A" hPa', "room_hpa") for name in FACTORS]
    about_named = [word.replace('room "A" hPa', "room_hpa") for word in about]
    text = canewright("products", *named, "--score", SCORE, *about_named, "--of", str(log))
    own = [
        {key.replace("room_hpa", 'room "A" hPa'): cell for key, cell in row.items()}
        for row in csv.DictReader(text.splitlines())
    ]
    if len(own) < 42:
        sys.exit(f"canewright sums {len(own)} lots")
    write_csv(folder / "own.csv", own)
    answer = json.loads(canewright("factors", "--products", str(folder / "own.csv"), "--json"))

    off = []
    for engine, run in (("DataFusion", by_datafusion), ("SQLite", by_sqlite)):
        rows = run(query, table)
        sums, cells = compare_sums(own, rows, engine)
        write_csv(folder / "sums.csv", rows)
        from_csv = json.loads(canewright("factors", "--products", str(folder / "sums.csv"), "--json"))
        pyarrow.parquet.write_table(pyarrow.Table.from_pylist(rows), folder / "sums.parquet")
        from_parquet = json.loads(canewright("factors", "--products", str(folder / "sums.parquet"), "--json"))
        if from_csv != from_parquet:
            sys.exit(f"{engine}: other answers from Parquet than from CSV")
        answers = compare_answers(answer, from_csv, engine)
        print(f"{engine}: {cells} sums of {len(rows)} lots, the worst off by {sums:.1e}; answers off by {answers:.1e} at most")
        off += [sums, answers]
    if max(off) > DIGITS:
        sys.exit(f"more than {DIGITS:.0e} apart")


main()

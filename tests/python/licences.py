"""Writes LICENSE-THIRD-PARTY.md: every crate that the program or its tests are built from, by its licence.

Run it as `python3 tests/python/licences.py` when Cargo.lock has gained or lost a crate; a test tells when.
"""

import json
import subprocess
from collections import defaultdict
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
HEAD = """# Built from

Every crate in `Cargo.lock` by the licence that it declares: those of other platforms, of the tests, and a few that no feature in use draws in, too. Written by
`tests/python/licences.py`; `.deny.toml` says which licences are let in.

| licence | crates | which |
| --- | ---: | --- |
"""


def spelled(licence):
    """One spelling for what crates write in several ways: `A/B` is `A OR B`, and the order of alternatives means nothing."""
    if ' AND ' in licence:
        return licence
    return ' OR '.join(sorted(licence.replace('/', ' OR ').replace('  ', ' ').split(' OR ')))


def main():
    call = ['cargo', 'metadata', '--locked', '--format-version', '1']
    told = subprocess.run(call, cwd=ROOT, check=True, capture_output=True, encoding='utf-8').stdout
    by_licence = defaultdict(set)
    for crate in json.loads(told)['packages']:
        if crate['source'] is not None:
            by_licence[spelled(crate['license'] or 'none declared')].add(crate['name'])
    rows = sorted(by_licence.items(), key=lambda row: (-len(row[1]), row[0]))
    lines = (f'| {licence} | {len(names)} | {", ".join(sorted(names))} |\n' for licence, names in rows)
    (ROOT / 'LICENSE-THIRD-PARTY.md').write_text(HEAD + ''.join(lines), encoding='utf-8')


if __name__ == '__main__':
    main()

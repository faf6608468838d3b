"""Every notebook runs from its first cell to its last, and what it asserts holds; `.ci/notebooks` calls this."""

import unittest
from pathlib import Path

import nbformat
from nbclient import NotebookClient

FOLDER = Path(__file__).resolve().parents[2] / 'notebooks'
NOTEBOOKS = sorted(FOLDER.glob('*.ipynb'))
# a cell that takes longer hangs
SECONDS_A_CELL = 300
# kernel and test talk on the machine itself, which the kernel would warn of
QUIET = ['--log-level=ERROR']


class Notebooks(unittest.TestCase):
    def test_there_are_notebooks_to_run(self):
        self.assertTrue(NOTEBOOKS, FOLDER)

    def test_they_are_committed_without_outputs(self):
        for path in NOTEBOOKS:
            for cell in nbformat.read(path, as_version=4).cells:
                with self.subTest(notebook=path.name, cell=cell.get('id')):
                    self.assertFalse(cell.get('outputs'))
                    self.assertIsNone(cell.get('execution_count'))

    def test_they_run_and_what_they_assert_holds(self):
        for path in NOTEBOOKS:
            with self.subTest(notebook=path.name):
                notebook = nbformat.read(path, as_version=4)
                place = {'metadata': {'path': str(FOLDER)}}
                client = NotebookClient(notebook, timeout=SECONDS_A_CELL, resources=place, extra_arguments=QUIET)
                client.execute()


if __name__ == '__main__':
    unittest.main()

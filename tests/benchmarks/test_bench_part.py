"""The command that measures the part runs as it is written down, on a small program."""

from __future__ import annotations

import pytest

from tests.benchmarks.bench_part import main


def test_a_line_for_each_size_with_a_part_that_has_features(capsys: pytest.CaptureFixture[str]) -> None:
    main([200, 400])
    rows = [line.split() for line in capsys.readouterr().out.splitlines()[1:]]
    assert [150 < int(row[0]) < 900 for row in rows] == [True, True] and int(rows[0][0]) < int(rows[1][0])
    assert all(int(row[-1]) > 2 for row in rows), (
        "a bar turned along a stepped contour has faces, diameters and grooves"
    )

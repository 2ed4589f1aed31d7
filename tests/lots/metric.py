"""The sample lot as a metric user would have written it: the same ground, measured in metres."""

from __future__ import annotations

import re
from pathlib import Path

from runoff.quantities import parse_length
from runoff.sample import sample_folder

FOOT, INCH_MM = 0.3048, 25.4
_BARE = re.compile(r"^(rim|floor|sill|corners|point|line|benchmark)\b.*$", re.MULTILINE)
_SIZES = {'"2 x 3 in"': '"60 x 80 mm"', '"3 in"': '"80 mm"', '"5 in"': '"125 mm"'}
_PER = {"ft": FOOT, "cu yd": (3 * FOOT) ** 3, "sq ft": FOOT**2}
_SI = {"ft": "m", "cu yd": "m3", "sq ft": "m2"}


def metric_sample(folder: Path) -> Path:
    """Write the sample lot in metres into a folder; the path of its site file."""
    here = sample_folder()
    text = (here / "site.toml").read_text(encoding="utf-8")
    text = re.sub(r"^notes = .*\n", "", text, flags=re.MULTILINE).replace(
        'units = "ft"', 'units = "m"'
    )
    for written, metric in _SIZES.items():
        text = text.replace(f"size = {written}", f"size = {metric}")
    text = re.sub(
        r'"([\d.]+) per (ft|cu yd|sq ft)"',
        lambda found: f'"{float(found[1]) / _PER[found[2]]:.2f} per {_SI[found[2]]}"',
        text,
    )
    text = re.sub(
        r'"([\d./ ]+ (?:ft|in)(?: [\d./ ]+ in)?)"',
        lambda found: f'"{parse_length(found[1]):.4f} m"',
        text,
    )
    text = _BARE.sub(
        lambda line: re.sub(
            r"(?<![\w\".])-?\d+(?:\.\d+)?(?![\w.]* m\")",
            lambda number: f"{float(number[0]) * FOOT:.5f}",
            line[0],
        ),
        text,
    )
    # Notes to oneself are printed as they were written.
    text = re.sub(r"(?m)^#.*\n|[ ]+#.*$", "", text)
    (folder / "site.toml").write_text(text, encoding="utf-8")
    rows = (here / "spots.csv").read_text(encoding="utf-8").splitlines()
    spots = [rows[0]]
    for row in rows[1:]:
        name, x, y, z, *rest = row.split(",")
        spots.append(",".join([name, *(f"{float(v) * FOOT:.5f}" for v in (x, y, z)), *rest]))
    remarks = re.sub(
        r"\b(\d+) ft off", lambda feet: f"{int(feet[1]) * FOOT:.1f} m off", "\n".join(spots)
    ).replace(",in hollow", ",of the hollow")
    (folder / "spots.csv").write_text(remarks + "\n", encoding="utf-8")
    rows = (here / "rain.csv").read_text(encoding="utf-8").splitlines()
    rain = [rows[0]]
    for row in rows[1:]:
        duration, unit, *depths = row.split(",")
        assert unit == "in", row
        rain.append(",".join([duration, "mm", *(f"{float(d) * INCH_MM:.1f}" for d in depths)]))
    (folder / "rain.csv").write_text("\n".join(rain) + "\n", encoding="utf-8")
    return folder / "site.toml"

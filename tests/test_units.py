"""The registry and its cache. Reference: pint's own registry without one."""

import os
import subprocess
import sys

import pint
import pytest

from assistant.units import CACHE_VARIABLE, Q, made_registry

PLAIN = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)
NAMES = sorted(name for name in PLAIN._units if name.isidentifier())
UNITS = (
    "inch", "foot", "thou", "mm", "degF", "degC", "delta_degF", "kelvin", "mL", "fluid_ounce",
    "psi", "kPa", "bar", "gram", "ounce", "pound", "hour", "N/mm", "g/mL", "L/min", "cubic_foot",
    "percent",
)  # fmt: skip


def same_as_plain(registry):
    for unit in UNITS:
        ours, plain = registry.Quantity(3.7, unit), PLAIN.Quantity(3.7, unit)
        assert str(ours) == str(plain) and ours.dimensionality == plain.dimensionality
        assert ours.to_base_units().magnitude == plain.to_base_units().magnitude


def test_what_the_cache_gives_is_what_the_definitions_give(tmp_path):
    cache = tmp_path / "some" / "cache"
    same_as_plain(made_registry(cache))
    assert [file.suffix for file in cache.iterdir()].count(".pickle") == 3
    assert [path.name for path in cache.parent.iterdir()] == ["cache"]
    same_as_plain(made_registry(cache))


def test_a_cache_is_read_and_not_the_definitions(tmp_path, monkeypatch):
    cache = tmp_path / "cache"
    made_registry(cache)
    monkeypatch.setattr(
        "flexparser.flexparser.Parser.parse_bytes", lambda *_: pytest.fail("read anew")
    )
    registry = made_registry(cache)
    same_as_plain(registry)
    assert len(NAMES) > 1000
    for name in NAMES:  # those with a prefix too, which a registry adds as they are asked for
        ours, plain = registry.parse_units(name), PLAIN.parse_units(name)
        assert registry.get_root_units(ours)[0] == PLAIN.get_root_units(plain)[0], name


@pytest.mark.parametrize("spoil", [lambda data: b"", lambda data: data[: len(data) // 2],
                                   lambda data: b"no pickle at all"])  # fmt: skip
def test_a_damaged_cache_is_made_anew(tmp_path, spoil):
    cache = tmp_path / "cache"
    made_registry(cache)
    whole = {file.name: len(file.read_bytes()) for file in cache.glob("*.pickle")}
    for file in cache.glob("*.pickle"):
        file.write_bytes(spoil(file.read_bytes()))
    same_as_plain(made_registry(cache))
    assert {file.name: len(file.read_bytes()) for file in cache.glob("*.pickle")} == whole


def test_where_nothing_can_be_written_the_definitions_are_read(tmp_path):
    in_the_way = tmp_path / "file"
    in_the_way.write_text("not a folder")
    same_as_plain(made_registry(in_the_way / "cache"))


def test_the_one_that_is_second_to_write_does_no_harm(tmp_path, monkeypatch):
    cache = tmp_path / "cache"
    made = pint.UnitRegistry.__init__

    def slowly(self, *given, **more):
        made(self, *given, **more)
        if more.get("cache_folder") not in (None, cache) and not cache.exists():
            monkeypatch.undo()
            made_registry(cache)  # another program, meanwhile

    monkeypatch.setattr(pint.UnitRegistry, "__init__", slowly)
    same_as_plain(made_registry(cache))
    assert [path.name for path in tmp_path.iterdir()] == ["cache"]


def test_a_program_keeps_the_cache_where_it_is_told(tmp_path):
    environment = {**os.environ, CACHE_VARIABLE: str(tmp_path / "here")}
    line = "from assistant.units import Q; print(Q(1, 'inch').to('mm'))"
    said = subprocess.run(
        [sys.executable, "-c", line], env=environment, capture_output=True, text=True, check=True
    )
    magnitude, unit = said.stdout.split()
    assert (float(magnitude), unit) == (pytest.approx(25.4), "mm")
    assert [p.name.startswith("pint-") for p in (tmp_path / "here").iterdir()] == [True]
    assert Q(1, "inch").m_as("mm") == pytest.approx(25.4)

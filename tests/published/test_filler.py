"""Filler: volumes, weights and shares against definitions, an integral and a standard's form."""

import math

import pytest
from scipy.integrate import dblquad

from assistant.products.shelf import demo_cards
from assistant.trade.cure import Limits, arrhenius_factor, stage_time
from assistant.trade.filler import filled_volume, filler_needed, seam_area
from assistant.units import Q


def test_a_square_foot_an_eighth_deep():
    # 144 in^2 * 1/8 in = 18 in^3, 1 in = 25.4 mm exactly: 294.967 mL (NIST SP 811, from
    # memory; the product computed)
    volume = filled_volume(Q(1, "foot**2"), Q(0.125, "inch"))
    assert volume.m_as("mL") == pytest.approx(294.967, abs=0.0005)


def test_density_in_pounds_per_gallon():
    # 1 g/mL is 8.345404 lb/gal (US) (NIST SP 811 table of factors, from memory; computed
    # anew from 453.59237 g and 231 in^3): a gallon of 1.1 g/mL weighs 9.17994 lb
    area, depth = Q(231, "inch**2"), Q(1, "inch")
    need = filler_needed(area, depth, Q(1.1, "g/mL"), 0.02, Q(2, "inch"))
    assert need.mass.m_as("pound") == pytest.approx(9.17994, abs=5e-6)
    assert need.mass.m_as("pound") == pytest.approx(1.1 * 231 * 2.54**3 / 453.59237, rel=1e-9)


def test_two_parts_to_a_hundred_by_mass():
    # by the meaning of parts by mass (computed): 250 g of filler, 2 to 100, is 5 g
    need = filler_needed(Q(100, "cm**2"), Q(2.5, "cm"), Q(1, "g/mL"), 0.02, Q(3, "cm"))
    assert need.mass.m_as("gram") == pytest.approx(250, rel=1e-12)
    assert need.hardener.m_as("gram") == pytest.approx(5, rel=1e-12)


def test_a_feathered_spot_takes_no_more_than_its_block():
    # scipy's quadrature over a low spot that feathers out like a cosine (computed): the mean
    # depth is 4/pi^2 of the deepest
    length, width, depth = 400.0, 60.0, 3.0
    dished = dblquad(
        lambda y, x: depth * math.sin(math.pi * x / length) * math.sin(math.pi * y / width),
        0, length, 0, width,
    )[0] / 1000  # fmt: skip
    block = filled_volume(seam_area(Q(length, "mm"), Q(width, "mm")), Q(depth, "mm"))
    assert dished == pytest.approx(block.m_as("mL") * 4 / math.pi**2, rel=1e-6)
    assert dished <= block.m_as("mL")


def test_work_time_between_rows_is_that_of_the_arrhenius_form():
    # ASTM C1074's form (from memory): two rows fix E/R, the time between them follows
    card = next(card for card in demo_cards() if card.key == "light-filler")
    (cold, slow), (warm, quick) = ((at, times.low) for at, times in card.rows("work")[1:])
    ratio = (slow / quick).m_as("dimensionless")
    energy = Q(8.314462618, "J/mol/K") * math.log(ratio)
    energy = energy / (1 / cold.to("kelvin") - 1 / warm.to("kelvin"))
    between = Q(80, "degF")
    expected = slow.m_as("minute") / arrhenius_factor(between, cold, energy)
    found = stage_time(card.rows("work"), "work", between, Limits(cold, warm))
    assert found.time.m_as("minute") == pytest.approx(expected, rel=1e-9)

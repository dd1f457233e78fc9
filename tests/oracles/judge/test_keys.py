"""Keys, measures, edits, check digits and hashes."""

import unittest

from keys import code_key, measure, name_key, one_edit_apart, vin_fits
from pictures import blake3


class Keys(unittest.TestCase):
    def test_codes_are_compared_by_key(self):
        self.assertEqual({code_key(c) for c in ("LF 5396", "lf-5396", "LF5396", "Lf_53.96", "LF/53\u201396", "LF5396")},
                         {"LF5396"})
        self.assertEqual(name_key(" Larkspur  freight"), name_key("Larkspur Freight"))

    def test_measures(self):
        self.assertEqual(measure("1 3/4 in"), measure("44.45 mm"))
        self.assertEqual(measure(4), ("count", 4))
        self.assertIsNone(measure("free"))

    def test_damerau_counts_a_swap_as_one(self):
        for near in ("LC1243", "LC123", "LC12345", "LC1235"):
            self.assertTrue(one_edit_apart("LC1234", near), near)
        for far in ("LC1234", "LC12", "LC2143", "LC4321"):
            self.assertFalse(one_edit_apart("LC1234", far), far)

    def test_vins_of_49_cfr_565_15(self):
        self.assertTrue(vin_fits("1G4AH59H45G118341") and vin_fits("1M8GDM9AXKP042788"))
        self.assertFalse(vin_fits("1G4AH59H55G118341") or vin_fits("1" * 17))

    def test_blake3_vectors(self):
        self.assertTrue(blake3(b"").hex().startswith("af1349b9") and blake3(b"abc").hex().startswith("6437b3ac"))

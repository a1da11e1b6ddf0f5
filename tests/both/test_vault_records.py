"""What the vault finds on the flash: frozen records, damage, newer versions, two generations."""

from alula import record_payloads as kinds
from alula.pressure_ratio import PLUMBINGS
from alula.record_codec import DAMAGED, NEWER, WHOLE, crc32, decode, encode
from alula.vault import KINDS, is_newer
from drivers.flash_files import READ_MOST
from tests.both import frozen_records as frozen
from tests.both.vault_rig import FILES, renewed, vault_with, with_crc, zero


def test_the_checksum_is_the_one_of_zlib():
    # check value of CRC-32 (zlib) over "123456789": catalogue of CRC algorithms, CBF43926
    assert crc32(b"123456789") == 0xCBF43926


def test_frozen_records_are_read_for_ever():
    assert KINDS == (1, 2, 3, 4, 5, 6, 7, 8)
    for kind, sequence, data, value in frozen.RECORDS:
        assert decode(kind, data) == (WHOLE, sequence, value, "")
        vault, flash = vault_with(**{FILES[kind] + "_a": data})
        assert vault.load(kind) == (value, "")
        assert flash.files == {"/" + FILES[kind] + ".a": data}


def test_version_1_is_written_as_frozen():
    for kind, sequence, data, value in frozen.RECORDS:
        assert encode(kind, sequence, value) == (data, "")


def test_every_flipped_bit_is_damage():
    for kind, _, data, _ in frozen.RECORDS:
        for bit in range(len(data) * 8):
            changed = bytearray(data)
            changed[bit // 8] ^= 1 << bit % 8
            state, _, value, text = decode(kind, bytes(changed))
            assert (state, value) == (DAMAGED, None) and text, (kind, bit)


def test_every_other_length_is_damage():
    for kind, _, data, _ in frozen.RECORDS:
        for length in range(len(data)):
            assert decode(kind, data[:length])[0] == DAMAGED, (kind, length)
        for more in (b"\x00", b"\xff", data, b"\xff" * 100):
            assert decode(kind, data + more)[0] == DAMAGED


def test_erased_and_zeroed_flash_is_damage():
    for kind in KINDS:
        for length in (0, 1, 19, 20, 21, 64, 4096):
            assert decode(kind, b"\xff" * length)[0] == DAMAGED
            assert decode(kind, b"\x00" * length)[0] == DAMAGED


def test_a_rule_broken_under_a_good_checksum_is_damage():
    zero_1, curves_1 = frozen.ZERO_1, frozen.CALIBRATION_1
    for data in (renewed(zero_1, 16, 0x1D), renewed(zero_1, 16, 0x0F - 0x0D),
                 renewed(zero_1, 19, 0x40), with_crc(zero_1[:-4] + b"\x00")):
        assert decode(frozen.ZERO, data)[0] == DAMAGED
    for at, byte in ((16, 4), (17, 3), (22, 0), (22, 1), (22, 3), (24, 0), (24, 5), (31, 9),
                     (31, 2), (31, 1)):
        assert decode(frozen.CALIBRATION, renewed(curves_1, at, byte))[0] == DAMAGED, (at, byte)
    assert decode(frozen.REFERENCE, renewed(frozen.REFERENCE_1, 18, 0xFF))[0] == DAMAGED
    assert decode(frozen.SETTINGS, renewed(frozen.SETTINGS_1, 16, ord("[")))[0] == DAMAGED
    assert decode(frozen.ZERO, renewed(zero_1, 6, 0))[0] == DAMAGED  # version 0 is never written


def test_another_kind_under_the_name_is_refused():
    for kind, _, _, _ in frozen.RECORDS:
        for other, _, data, _ in frozen.RECORDS:
            if other != kind:
                vault, flash = vault_with(**{FILES[kind] + "_a": data})
                value, problem = vault.load(kind)
                assert value is None and "another kind (%s)" % FILES[other] in problem


def test_every_plumbing_and_method_has_its_number():
    assert all(word in kinds.PLUMBING_NUMBERS for word in PLUMBINGS)
    assert sorted(kinds.METHOD_NUMBERS.values()) == [1, 2, 3, 4]


def test_a_zero_of_zero_is_not_the_same_as_none():
    vault, _ = vault_with()
    assert vault.load(frozen.ZERO) == (None, "")
    nothing = {"pitot_dpa": 0, "angled_dpa": 0, "spread_pitot_dpa": 0, "spread_angled_dpa": 0,
               "temperature_dc": 0, "count": 0}
    unset = dict(nothing, spread_pitot_dpa=None, spread_angled_dpa=None, temperature_dc=None,
                 count=None)
    for value in (nothing, unset):
        assert vault.save(frozen.ZERO, value) == ""
        assert vault.load(frozen.ZERO) == (value, "")
    for lift in (0, None, 1500):
        assert vault.save(frozen.REFERENCE, lift) == ""
        assert vault.load(frozen.REFERENCE) == (lift, "")


def test_the_two_files_take_turns_and_the_newest_counts():
    vault, flash = vault_with()
    for n in range(1, 6):
        assert vault.save(frozen.ZERO, zero(n)) == ""
        assert vault.load(frozen.ZERO) == (zero(n), "")
    assert sorted(flash.files) == ["/zero.a", "/zero.b"]
    assert decode(frozen.ZERO, flash.files["/zero.a"])[1:3] == (5, zero(5))
    assert decode(frozen.ZERO, flash.files["/zero.b"])[1:3] == (4, zero(4))


def test_numbers_that_wrap():
    # serial number arithmetic as in RFC 1982, 32 bits
    assert is_newer(0, 0xFFFFFFFF) and not is_newer(0xFFFFFFFF, 0)
    assert is_newer(0x7FFFFFFF, 0) and not is_newer(0x80000000, 0) and not is_newer(5, 5)
    last = encode(frozen.ZERO, 0xFFFFFFFF, zero(1))[0]
    vault, flash = vault_with(zero_a=last, zero_b=encode(frozen.ZERO, 0xFFFFFFFE, zero(2))[0])
    assert vault.load(frozen.ZERO) == (zero(1), "")
    for n in (3, 4, 5):
        assert vault.save(frozen.ZERO, zero(n)) == ""
        assert vault.load(frozen.ZERO) == (zero(n), "")
    assert decode(frozen.ZERO, flash.files["/zero.b"])[1] == 2


def test_a_damaged_newest_gives_the_one_before_and_says_so():
    for saves, newest in ((3, "zero.a"), (4, "zero.b")):
        vault, flash = vault_with()
        for n in range(1, saves + 1):
            vault.save(frozen.ZERO, zero(n))
        flash.files["/" + newest] = flash.files["/" + newest][:-1]
        value, problem = vault.load(frozen.ZERO)
        assert value == zero(saves - 1)
        assert newest + " has the wrong length" in problem and "save again" in problem
        assert vault.save(frozen.ZERO, zero(9)) == ""  # the damaged file is the one replaced
        assert vault.load(frozen.ZERO) == (zero(9), "")


def test_both_damaged_is_none_and_says_which():
    vault, flash = vault_with(zero_a=b"", zero_b=frozen.ZERO_1[:-1],
                              zero_json=b'{"pitot_dpa": 5, "angled_dpa": 6}')
    value, problem = vault.load(frozen.ZERO)
    assert value is None and "zero.a" in problem and "zero.b" in problem and "backup" in problem
    assert vault.save(frozen.ZERO, zero(1)) == ""
    assert vault.load(frozen.ZERO)[0] == zero(1)


def test_a_newer_version_is_refused_aloud_and_left_as_it_is():
    newer = renewed(frozen.ZERO_1, 6, 2)
    assert decode(frozen.ZERO, newer)[0] == NEWER
    # whatever its payload is, and whether or not an older generation stands beside it
    strange = with_crc(frozen.ZERO_1[:6] + b"\xff\xff" + b"\x01\x00\x00\x00" + b"\x05\x00\x00\x00"
                       + b"hello")
    for files in ({"zero_a": newer}, {"zero_b": strange, "zero_a": frozen.ZERO_1},
                  {"zero_a": strange, "zero_json": b'{"pitot_dpa": 5, "angled_dpa": 6}'}):
        vault, flash = vault_with(**files)
        before = dict(flash.files)
        value, problem = vault.load(frozen.ZERO)
        assert value is None and "has format" in problem and "install" in problem
        problem = vault.save(frozen.ZERO, zero(1))
        assert problem.startswith("zero not saved") and "install" in problem
        assert flash.files == before
        assert vault.save(frozen.REFERENCE, 1) == ""  # other kinds are free


def test_a_huge_file_does_not_fill_the_memory():
    vault, flash = vault_with(zero_a=b"x" * 100000)
    value, problem = vault.load(frozen.ZERO)
    assert value is None and "larger than %d" % READ_MOST in problem
    assert flash.calls < 600

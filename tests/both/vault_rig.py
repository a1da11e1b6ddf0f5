"""What the vault's tests share: a vault on a fake flash, and values. Runs in both interpreters."""

from alula.record_codec import crc32
from alula.vault import Vault
from drivers.flash_files import FlashFiles
from host_sim.bench.fake_flash import FakeFlash
from tests.both import frozen_records as frozen

FILES = {frozen.SETTINGS: "settings", frozen.ZERO: "zero", frozen.CALIBRATION: "calibration",
         frozen.REFERENCE: "reference", frozen.STOP: "stop", frozen.STARTS: "starts",
         frozen.ANCHOR: "anchor", frozen.CHECKS: "checks"}


def vault_with(**files):
    """(vault, its flash); a file's name is given with _ for the dot."""
    flash = FakeFlash()
    for name in files:
        flash.files["/" + name.replace("_", ".")] = files[name]
    return Vault(FlashFiles(flash, flash.open, "")), flash


def with_crc(body: bytes) -> bytes:
    crc = crc32(body)
    return body + bytes([crc >> shift & 255 for shift in (0, 8, 16, 24)])


def renewed(data: bytes, at: int, byte: int) -> bytes:
    """A record with one byte changed on purpose, and a checksum that fits."""
    return with_crc(data[:at] + bytes([byte]) + data[at + 1:-4])


def zero(pitot_dpa: int) -> dict:
    return {"pitot_dpa": pitot_dpa, "angled_dpa": -pitot_dpa, "spread_pitot_dpa": None,
            "spread_angled_dpa": 0, "temperature_dc": None, "count": 400}

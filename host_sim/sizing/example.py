"""A case to start from: an invented two-seater, and sensors by type.

Bands: `1 %` and the like are common catalogue figures, from memory; noise and drift are round
numbers to be replaced by the data sheet's or by your own measurement.
"""

EXAMPLE = '''\
# alula size rill.toml        (the Rill is invented: put your own numbers in)
stall = "42 kt"               # calibrated; the slowest that counts
top = "120 kt"                # never exceed
height = "8000 ft"            # tubes are slowest at the highest
plumbing = "port-static"
probe_angle = 45              # degrees below the body axis

[pitot_line]
length = "3.5 m"
bore = "3 mm"

[angled_line]
length = "3 m"
bore = "3 mm"

[settings]                    # any of the settings reference; what is not here has its default
window_ms = 200

[[sensor]]
name = "1 psi, 14 bit"
range = "1 psi"               # both signs; or: low = "0 Pa", high = "1 psi"
output = "ms4525-a"
band_pc = 1                   # total error band, +- percent of the span (high less low)
noise = "1.2 Pa"              # rms of one reading
drift = "0.3 Pa/K"            # of the zero; or "0.002 %/K" of the span

[[sensor]]
name = "10 inH2O, 14 bit"
range = "10 inH2O"
output = "hsc-a"
band_pc = 1
noise = "0.6 Pa"
drift = "0.15 Pa/K"

[[sensor]]
name = "1 inH2O, 14 bit"
range = "1 inH2O"
output = "hsc-a"
band_pc = 2
noise = "0.1 Pa"
drift = "0.05 Pa/K"

[[sensor]]
name = "1.4 psi, 12 bit, own driver"
low = "-1.4 psi"
high = "1.4 psi"
output = "direct"             # the driver gives pascals
bits = 12                     # or: resolution = "4.7 Pa"
band_pc = 1.5
noise = "6 Pa"
drift = "2 Pa/K"

[[pair]]                      # one sensor for the pitot, another for the angled port
pitot = "1 psi, 14 bit"
angled = "10 inH2O, 14 bit"
'''

"""Standards and practices of the test methods: what each covers; none claims conformity."""

from analysis.sources.source import Source

SOURCES = [
    Source("iso_19403_1",
           "ISO 19403-1:2017, wettability, terms and general principles (scope only read; may be "
           "restricted for non-Newtonian liquids; no conformity is claimed)"),
    Source("iso_19403_6",
           "ISO 19403-6:2024, wettability: advancing and receding angle by changing the drop "
           "volume (scope only read; drop volumes, rates and replicates are not; no conformity is"
           " claimed)"),
    Source("iso_19403_7",
           "ISO 19403-7:2024, wettability: roll-off angle and dynamic angles on a tilt stage "
           "(scope only read; drop volumes, rates and replicates are not; no conformity is "
           "claimed)"),
    Source("astm_d7334",
           "ASTM D7334-08(2022): advancing contact angle only (scope only read; no conformity is "
           "claimed)"),
    Source("en_828",
           "EN 828: hysteresis is normally not negligible above about 0.5 µm roughness; the angle"
           " is then no constant of the material"),
    Source("iso_ts_10689",
           "ISO/TS 10689:2023: superhydrophobic surfaces judged by advancing and receding angle "
           "and hysteresis before and after stress, limits by agreement (scope only read)"),
]  # fmt: skip

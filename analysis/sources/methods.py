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
    Source("astm_d7490",
           "ASTM D7490-13: surface tension of solid coatings from the angles of two liquids (a test house's "
           "summary read, second-hand: water read within 30 s; no conformity is claimed)"),
    Source("iso_19403_2",
           "ISO 19403-2:2024, wettability: surface free energy of solid surfaces by contact angle (scope only "
           "read; no conformity is claimed)"),
    Source("astm_d8380",
           "ASTM D8380-21: dry abrasion of thin hydrophobic coatings on glass judged by the static contact angle "
           "(scope only read; not for textured or lubricated coupons; no conformity is claimed)"),
    Source("astm_f22",
           "ASTM F22: water break test, qualitative and weaker on rough or porous surfaces (scope and outline "
           "only read; no conformity is claimed)"),
    Source("astm_d1003",
           "ASTM D1003-13: haze and luminous transmittance of transparent plastics; above 30 % haze the material "
           "is diffusing and the method does not apply (scope only read; no conformity is claimed)"),
    Source("iso_2409",
           "ISO 2409:2020: cross-cut test, six classes; no measure of adhesion strength, not for coatings above "
           "250 µm and not for textured coatings (scope only read; classes 0 to 3 from a manual that quotes it, "
           "4 and 5 from memory; no conformity is claimed)"),
    Source("iso_25178_2",
           "ISO 25178-2: areal surface texture parameters, Sdr (definition from memory; no conformity is claimed)"),
]  # fmt: skip
